"""Fill and steepest-descent routing in plain Python: slow, short, and used only to state the truth."""

from __future__ import annotations

import heapq

import numpy as np

STEPS = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def flood(z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Filled surface, flood parent and flood order of a surface that drains over its edge and into voids.

    Each cell's parent was flooded before it and lies nearer an outlet; -1 marks outlets and voids.
    """
    rows, cols = z.shape
    level = z.ravel().tolist()
    parent = [-1] * z.size
    seen = np.isnan(z).ravel().tolist()
    rim = np.zeros(z.shape, dtype=bool)
    rim[[0, -1], :] = rim[:, [0, -1]] = True
    padded = np.pad(np.isnan(z), 1)
    for dr, dc in STEPS:
        rim |= padded[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols]
    rim &= ~np.isnan(z)
    heap = [(level[i], n, int(i)) for n, i in enumerate(np.flatnonzero(rim))]
    for _, _, i in heap:
        seen[i] = True
    heapq.heapify(heap)
    count, order = len(heap), []
    while heap:
        top, _, i = heapq.heappop(heap)
        order.append(i)
        r, c = divmod(i, cols)
        for dr, dc in STEPS:
            rr, cc = r + dr, c + dc
            j = rr * cols + cc
            if 0 <= rr < rows and 0 <= cc < cols and not seen[j]:
                seen[j] = True
                parent[j] = i
                level[j] = max(level[j], top)
                count += 1
                heapq.heappush(heap, (level[j], count, j))
    return np.array(level).reshape(z.shape), np.array(parent), np.array(order)


def steepest_receivers(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Receiver of each cell by D8 on the filled surface (flats follow the flood), and outlet-first order."""
    filled, parent, order = flood(z)
    rows, cols = z.shape
    padded = np.pad(filled, 1, constant_values=np.nan)
    best = np.zeros(z.shape)
    receiver = parent.reshape(z.shape).copy()
    index = np.arange(z.size).reshape(z.shape)
    for dr, dc in STEPS:
        drop = (filled - padded[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols]) / np.hypot(dr, dc)
        take = (parent.reshape(z.shape) >= 0) & (drop > best)
        best = np.where(take, drop, best)
        receiver = np.where(take, index + dr * cols + dc, receiver)
    return receiver.ravel(), order


def contributing_cells(receiver: np.ndarray, order: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Weight of each cell and of all that drains through it."""
    total = weight.astype(float).ravel().tolist()
    to = receiver.tolist()
    for i in order[::-1].tolist():
        if to[i] >= 0:
            total[to[i]] += total[i]
    return np.array(total)
