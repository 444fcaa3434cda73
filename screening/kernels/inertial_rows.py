"""Rows of a local-inertial step: flows over faces, how much of them a cell can give, moved water, running maxima.

All grids are float32 with a ring of one ghost cell, and one more row after it that is read where a face of the last row
looks one row further, and never counts. `flow_x[i, j]` crosses the face between cells (i, j - 1) and (i, j),
`flow_y[i, j]` the one between (i - 1, j) and (i, j), both in m2/s.

A face has two heights: its crest above the ground of the cell before it and of the cell after it. Water above the crest
is depth less that height on either side, so no elevation is ever added to a depth: float32 keeps thin films on high
ground, and a wall, a curb or a fence is a higher crest.
"""

import math
from typing import Any, NamedTuple

import numpy as np

from screening.kernels.compiling import F32, compile_as

GRAVITY_M_S2 = 9.81
NEVER_S = 1e30
"""Time of arrival where water never came [s]."""
CLOSED_M = 1e6
"""Height of a crest that lets nothing over [m]."""

# Sums of four terms may be taken in any order here: mirrored ground gives mirrored results to rounding.
_fast = compile_as(fastmath=True)

_ZERO, _ONE, _HALF, _QUARTER = np.float32(0.0), np.float32(1.0), np.float32(0.5), np.float32(0.25)
_THIRD, _FOUR_THIRDS = np.float32(1.0 / 3.0), np.float32(4.0 / 3.0)
_TWO, _FOUR, _TINY = np.float32(2.0), np.float32(4.0), np.float32(1e-20)
_LEAST_FLOW, _NEVER = np.float32(1e-30), np.float32(NEVER_S)
_GRAVITY, _GUESS = np.float32(GRAVITY_M_S2), np.float32(1.419967116e9)
_FILM_FACTOR, _SPEED_CAP = np.float32(0.7), np.float32(3.0)


class Faces(NamedTuple):
    """What water meets between cells and on them, float32 (n_rows + 3, pitch) each."""

    x_before: F32
    """Crest of the face west of a cell, above the ground of the cell west of it [m]."""
    x_after: F32
    """The same crest above the ground of the cell itself [m]."""
    y_before: F32
    """Crest of the face north of a cell, above the ground of the cell north of it [m]."""
    y_after: F32
    """The same crest above the ground of the cell itself [m]."""
    roughness_2: F32
    """Manning's n, squared."""


class Water(NamedTuple):
    """Water and its flow, float32 (n_rows + 3, pitch) each."""

    depth: F32
    flow_x: F32
    flow_y: F32
    next_x: F32
    """Flows of the step at work, before they are held to what a cell can give."""
    next_y: F32
    share: F32
    """How much of its outflow a cell can give, 0-1; 0 on the ring, so that nothing ever comes in there."""


class Maxima(NamedTuple):
    """What was largest, and when, float32 (n_rows + 3, pitch) each."""

    depth: F32
    unit_flow: F32
    """Depth times speed [m2/s]."""
    speed: F32
    """[m/s]; water shallower than the depth of speeds is taken as so deep. 0 where a link or a gap takes water."""
    arrival_s: F32
    wet_s: F32


class Step(NamedTuple):
    """Numbers of one step, float32."""

    friction: np.float32
    """g dt / 2: half, because the roughness of two cells is added up."""
    pull: np.float32
    """g dt / dx."""
    own: np.float32
    """Weight of a face's own flow (theta)."""
    beside: np.float32
    """Weight of each of its two neighbours, (1 - theta) / 2."""
    least_depth: np.float32
    """Water over a crest shallower than this does not flow [m]."""
    froude: np.float32
    """Largest Froude number times the root of g."""
    ratio: np.float32
    """dt / dx."""


@compile_as(inline="always", fastmath=True)
def _root(depth: Any) -> Any:
    """depth^(-1/3): a guess from the bits and two Newton steps without a division, relative error below 2e-5."""
    bits = np.float32(depth).view(np.int32)
    guess = np.int32(_GUESS - np.float32(bits) * _THIRD).view(np.float32)
    guess = guess * (_FOUR_THIRDS - _THIRD * depth * guess * guess * guess)
    return guess * (_FOUR_THIRDS - _THIRD * depth * guess * guess * guess)


@compile_as(inline="always", fastmath=True)
def _flow(above0: Any, above1: Any, rough: Any, own: Any, beside: Any, along: Any, step: Step) -> Any:
    """New flow over a face.

    With B = g dt n2 / h^(7/3) it solves q (1 + B sqrt(q2 + along2)) = pushed: exactly for along = 0, by the quadratic;
    one Newton step then takes the flow along the face into account. The usual pushed / (1 + B |q_old|) alternates from
    one step to the next once B |q| > 1, as it is in sheets on steep ground.
    """
    over = max(above0, above1)
    deep = max(over, step.least_depth)
    pushed = step.own * own + step.beside * beside - step.pull * deep * (above1 - above0)
    root = _root(deep)
    root2 = root * root
    b = step.friction * rough * (root2 * root2 * root2 * root)
    force = abs(pushed)
    first = _TWO * force / (_ONE + np.sqrt(_ONE + _FOUR * b * force))
    size2 = first * first + along * along + _TINY
    size = np.sqrt(size2)
    flow = first - (first * (_ONE + b * size) - force) * size / (size + b * (size2 + first * first))
    signed = math.copysign(min(flow, step.froude * deep * np.sqrt(deep)), pushed)
    return signed if over > step.least_depth else _ZERO


@_fast
def _flow_y_row(i: int, n_cols: int, faces: Faces, water: Water, step: Step) -> None:
    north, south = water.depth[i - 1], water.depth[i]
    before, after = faces.y_before[i], faces.y_after[i]
    rough_n, rough_s = faces.roughness_2[i - 1], faces.roughness_2[i]
    y_north, y_own, y_south = water.flow_y[i - 1], water.flow_y[i], water.flow_y[i + 1]
    x_north, x_south, out = water.flow_x[i - 1], water.flow_x[i], water.next_y[i]
    for j in range(1, n_cols + 1):
        along = _QUARTER * ((x_north[j] + x_north[j + 1]) + (x_south[j] + x_south[j + 1]))
        beside = y_north[j] + y_south[j]
        out[j] = _flow(
            above0=north[j] - before[j],
            above1=south[j] - after[j],
            rough=rough_n[j] + rough_s[j],
            own=y_own[j],
            beside=beside,
            along=along,
            step=step,
        )


@_fast
def _flow_x_row(i: int, n_cols: int, faces: Faces, water: Water, step: Step) -> None:
    depth, before, after = water.depth[i], faces.x_before[i], faces.x_after[i]
    rough, x_own = faces.roughness_2[i], water.flow_x[i]
    y_north, y_south, out = water.flow_y[i], water.flow_y[i + 1], water.next_x[i]
    for j in range(1, n_cols + 2):
        along = _QUARTER * ((y_north[j - 1] + y_north[j]) + (y_south[j - 1] + y_south[j]))
        beside = x_own[j - 1] + x_own[j + 1]
        out[j] = _flow(
            above0=depth[j - 1] - before[j],
            above1=depth[j] - after[j],
            rough=rough[j - 1] + rough[j],
            own=x_own[j],
            beside=beside,
            along=along,
            step=step,
        )


@_fast
def flow_rows(first: int, end: int, n_cols: int, faces: Faces, water: Water, step: Step) -> None:
    """Find the new flows of rows first..end - 1, and what share of its outflow each of their cells can give.

    The row of faces south of the last is found too: the strip below finds the same numbers again.
    """
    for i in range(first, end + 1):
        _flow_y_row(i, n_cols, faces, water, step)
        if i < end:
            _flow_x_row(i, n_cols, faces, water, step)
        if i > first:
            # The row above has all four of its faces now.
            depth, share = water.depth[i - 1], water.share[i - 1]
            west, north, south = water.next_x[i - 1], water.next_y[i - 1], water.next_y[i]
            for j in range(1, n_cols + 1):
                out_x = max(-west[j], _ZERO) + max(west[j + 1], _ZERO)
                out_y = max(-north[j], _ZERO) + max(south[j], _ZERO)
                share[j] = min(_ONE, depth[j] / max(step.ratio * (out_x + out_y), _LEAST_FLOW))


@compile_as(inline="always", fastmath=True)
def _held(flow: Any, before: Any, after: Any) -> Any:
    """A flow held to what the cell that it comes from can give."""
    return flow * (before if flow > _ZERO else after)


@_fast
def move_rows(
    first: int, end: int, n_rows: int, n_cols: int, water: Water, source: F32, added: Any, ratio: Any
) -> float:
    """Move the water of rows first..end - 1 and let runoff fall; return what left over the edges [m2/s].

    What a face takes from one cell it gives to the other, the same number: no water is made or lost but by rounding.
    """
    lost = 0.0
    for i in range(first, end):
        depth, fall = water.depth[i], source[i]
        north, own, south = water.share[i - 1], water.share[i], water.share[i + 1]
        next_x, next_y, next_s = water.next_x[i], water.next_y[i], water.next_y[i + 1]
        x, y = water.flow_x[i], water.flow_y[i]
        for j in range(1, n_cols + 2):
            x[j] = _held(next_x[j], own[j - 1], own[j])
        for j in range(1, n_cols + 1):
            y[j] = _held(next_y[j], north[j], own[j])
        for j in range(1, n_cols + 1):
            net = (x[j] - x[j + 1]) + (y[j] - _held(next_s[j], own[j], south[j]))
            depth[j] = max(depth[j] + ratio * net, _ZERO) + fall[j] * added
        lost += max(-np.float64(x[1]), 0.0) + max(np.float64(x[n_cols + 1]), 0.0)
        if i == 1:
            for j in range(1, n_cols + 1):
                lost += max(-np.float64(y[j]), 0.0)
        if i == n_rows:
            last = water.flow_y[i + 1]
            for j in range(1, n_cols + 1):
                last[j] = _held(next_s[j], own[j], south[j])
                lost += max(np.float64(last[j]), 0.0)
    return lost


@_fast
def track_rows(
    first: int, end: int, n_cols: int, water: Water, maxima: Maxima, now: Any, passed: Any, wet: Any, speed: Any
) -> None:
    """Carry on the maxima of rows first..end - 1 at the time `now`, `passed` seconds after the last time.

    `wet` is the depth from which ground counts as wet, `speed` the least that a speed is taken of [m].
    """
    for i in range(first, end):
        depth, x, north, south = water.depth[i], water.flow_x[i], water.flow_y[i], water.flow_y[i + 1]
        deepest, fastest, most = maxima.depth[i], maxima.speed[i], maxima.unit_flow[i]
        arrival, wet_s = maxima.arrival_s[i], maxima.wet_s[i]
        for j in range(1, n_cols + 1):
            along, across = x[j] + x[j + 1], north[j] + south[j]
            flow = _HALF * np.sqrt(along * along + across * across)
            most[j] = max(most[j], flow)
            fastest[j] = max(fastest[j], flow / max(depth[j], speed))
        for j in range(1, n_cols + 1):
            deepest[j] = max(deepest[j], depth[j])
            arrival[j] = min(arrival[j], now if depth[j] > wet else _NEVER)
            wet_s[j] += passed if depth[j] > wet else _ZERO


@_fast
def fastest_signal(first: int, end: int, n_cols: int, water: Water, speed_depth: Any) -> Any:
    """Find the fastest signal of rows first..end - 1 [m/s]: a gravity wave on water that moves."""
    fastest = _ZERO
    for i in range(first, end):
        depth, x, north, south = water.depth[i], water.flow_x[i], water.flow_y[i], water.flow_y[i + 1]
        for j in range(1, n_cols + 1):
            flow = _HALF * (abs(x[j] + x[j + 1]) + abs(north[j] + south[j]))
            speed = min(flow / max(depth[j], speed_depth), _SPEED_CAP)
            fastest = max(fastest, np.sqrt(_GRAVITY * depth[j]) + _FILM_FACTOR * speed)
    return fastest
