"""Flow by each routing method: weights added up along it, and the share of it that meets a place."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from screening.errors import GridMismatchError, InputError
from screening.models import F32, F64, I32, I64, U8, Bool, FlowField
from screening.schema.criteria import DISPERSIVE_METHODS

if TYPE_CHECKING:
    from screening.kernels.conduit_links import ConduitLinks

METHODS = ("d8", *DISPERSIVE_METHODS)
"""Steepest descent, and the ways to spread over lower neighbours."""


def accumulate_weight(flow: FlowField, weight: F32 | F64, *, method: str) -> F64:
    """Add up a weight, such as runoff, over all that drains through each cell.

    Parameters
    ----------
    flow
        Where water goes.
    weight
        (n_rows, n_cols), any unit; cells without elevation have no part in it.
    method
        One of `METHODS`: "d8", "freeman" (with the exponent of `flow`), "qin" or "d-infinity".

    Returns
    -------
    float64 (n_rows, n_cols), unit of `weight`, 0 where there is no elevation. Its sum over the outlets is the sum
    of the weights where there is elevation, to rounding.

    Raises
    ------
    GridMismatchError
        The weight has another shape.
    InputError
        The weight is not finite where there is elevation, or the method is unknown.

    References
    ----------
    O'Callaghan & Mark 1984, doi 10.1016/S0734-189X(84)80011-0; Freeman 1991, doi 10.1016/0098-3004(91)90048-I;
    Qin et al. 2007, doi 10.1080/13658810601073240; Tarboton 1997, doi 10.1029/96WR03137.
    """
    from screening.kernels.accumulate import accumulate
    from screening.kernels.conduit_links import collect_links

    known = _known_weight(flow, weight)
    if method == "d8":
        along: F64 = accumulate(flow.receiver, flow.order, known.ravel())
        return along.reshape(flow.grid.shape)
    return accumulate_spread(
        flow.filled_elev_m,
        flow.flow_dir_d8,
        known,
        collect_links(flow.link_cell, flow.link_target),
        method=method,
        exponent=flow.multiflow_exponent,
        cell_m=flow.grid.cell_m,
    )


def dispersive_area_m2(flow: FlowField) -> F64:
    """Measure the ground that drains through each cell, spread over lower neighbours by `flow.dispersive_method`.

    Costly on a large window, and read by nothing but its raster: made when it is asked for.

    Parameters
    ----------
    flow
        Where water goes; what comes from beyond the window counts.

    Returns
    -------
    float64 (n_rows, n_cols) [m2], 0 where there is no elevation.
    """
    own = accumulate_weight(flow, np.full(flow.grid.shape, flow.grid.cell_area_m2), method=flow.dispersive_method)
    inflow = flow.inflow
    if not inflow.supplied_cell.size:
        return own
    beyond = np.zeros(flow.grid.shape)
    beyond.ravel()[inflow.cell] = inflow.area_m2
    return own + accumulate_weight(flow, beyond, method=flow.dispersive_method)


def context_area_of(flow: FlowField, zone_start: I64, zone_cells: I64, zone_end: I64 | None = None) -> F64:
    """Measure the ground beyond the window that drains through each zone, as `zone_upstream_total` counts.

    Returns
    -------
    (n_zones,) float64 [m2]; zeros where nothing comes from beyond.
    """
    from screening.kernels.accumulate import zone_upstream_total

    if flow.context_area_m2 is None:
        return np.zeros(zone_start.size - 1 if zone_end is None else zone_end.size)
    return zone_upstream_total(flow.receiver, flow.context_area_m2.ravel(), zone_start, zone_cells, zone_end)


def context_area_at(flow: FlowField, cells: I64) -> F64:
    """Ground beyond the window that drains through each cell, given by flat indices [m2]."""
    if flow.context_area_m2 is None:
        return np.zeros(cells.size)
    return flow.context_area_m2.ravel()[cells]


def accumulate_spread(
    filled_elev_m: F32,
    flow_dir_d8: U8,
    weight: F64,
    links: ConduitLinks,
    *,
    method: str,
    exponent: float,
    cell_m: float,
) -> F64:
    """Add up a weight along spreading flow, before there is a `FlowField`.

    Parameters
    ----------
    filled_elev_m, flow_dir_d8
        As in `FlowField`.
    weight
        float64 (n_rows, n_cols).
    links
        Cells all of whose water goes to one cell that is no neighbour, where it spreads on.
    method
        One of `criteria.DISPERSIVE_METHODS`.
    exponent
        Of "freeman".
    cell_m
        Cell size [m], for "qin", whose exponent follows the slope.

    Returns
    -------
    float64 (n_rows, n_cols).
    """
    from screening.kernels.dinfinity import accumulate_dinf
    from screening.kernels.multiflow import accumulate_multiflow
    from screening.kernels.shares import freeman, qin

    _check_method(method, DISPERSIVE_METHODS)
    if method == "d-infinity":
        return accumulate_dinf(filled_elev_m, flow_dir_d8, weight, links)
    law = qin(cell_m) if method == "qin" else freeman(exponent)
    return accumulate_multiflow(filled_elev_m, flow_dir_d8, weight, law, links)


def fraction_reaching(flow: FlowField, target: Bool, *, pen: I32) -> F64:
    """Share of the water of each cell that meets a target before it leaves the pen it starts in.

    Water spreads by `flow.dispersive_method`.

    Parameters
    ----------
    flow
        Where water goes.
    target
        bool (n_rows, n_cols).
    pen
        int32 (n_rows, n_cols), label of the pen; a step, or a way through a pipe, to a cell of another label
        leaves it.

    Returns
    -------
    float64 (n_rows, n_cols) [0-1], 1 at targets, 0 where there is no elevation.
    """
    from screening.kernels.conduit_links import collect_links
    from screening.kernels.dinfinity import reach_fraction_dinf
    from screening.kernels.multiflow import multiflow_order, reach_fraction
    from screening.kernels.shares import freeman, qin

    filled, codes, is_target = flow.filled_elev_m, flow.flow_dir_d8, target.astype(np.uint8)
    links = collect_links(flow.link_cell, flow.link_target)
    _check_method(flow.dispersive_method, DISPERSIVE_METHODS)
    if flow.dispersive_method == "d-infinity":
        return reach_fraction_dinf(filled, codes, is_target, pen, links)
    law = qin(flow.grid.cell_m) if flow.dispersive_method == "qin" else freeman(flow.multiflow_exponent)
    return reach_fraction(
        filled=filled,
        codes=codes,
        order=multiflow_order(filled, codes, links),
        target=is_target,
        pen=pen,
        law=law,
        links=links,
    )


def _known_weight(flow: FlowField, weight: F32 | F64) -> F64:
    if np.shape(weight) != flow.grid.shape:
        raise GridMismatchError(
            "The weight lies on another grid", got=f"shape {np.shape(weight)}", expected=f"shape {flow.grid.shape}"
        )
    has_elev = ~np.isnan(flow.filled_elev_m)
    known = np.where(has_elev, weight, 0.0).astype(np.float64)
    n_bad = int((~np.isfinite(known)).sum())
    if n_bad:
        raise InputError(
            "The weight is not finite everywhere",
            got=f"{n_bad} cells that have elevation and no finite weight",
            expected="a number wherever there is elevation",
            mend="give such cells 0 if nothing comes from them",
        )
    return known


def _check_method(method: str, known: tuple[str, ...]) -> None:
    if method not in known:
        raise InputError("The routing method is unknown", got=repr(method), expected=", ".join(known))
