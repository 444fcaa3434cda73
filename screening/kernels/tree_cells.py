"""The cells that the nodes of a depression hierarchy cover, so that those of every node stand together."""

import numpy as np

from screening.kernels.compiling import F32, I32, I64, Mask, compiled
from screening.kernels.hierarchy import HierarchyArrays


def cells_by_leaf(elev: F32, arrays: HierarchyArrays, is_covered: Mask) -> tuple[I64, I64, I64]:
    """List the covered cells so that those of every node stand together.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    arrays : HierarchyArrays
    is_covered : (n_rows, n_cols) bool
        Cells that the outermost depressions cover.

    Returns
    -------
    cells : (n_covered,) int64
        Flat indices, by leaf in the order of the tree, then by elevation.
    first, last : (n_nodes + 1,) int64
        Cells of node `i` are `cells[first[i]:last[i]]`.
    """
    n = arrays.parent.size
    place = np.zeros(n, np.int64)
    _walk_tree(arrays.parent, arrays.child_a, arrays.child_b, place)
    flat = np.flatnonzero(is_covered.ravel() & (arrays.leaf.ravel() > 0))
    leaf = arrays.leaf.ravel()[flat]
    order = np.lexsort((flat, elev.ravel()[flat], place[leaf]))
    counts = np.bincount(leaf, minlength=n)
    first, last = np.zeros(n, np.int64), np.zeros(n, np.int64)
    _ranges(arrays.child_a, arrays.child_b, place, counts, arrays.n_leaves, first, last)
    return flat[order].astype(np.int64), first, last


@compiled
def _walk_tree(parent: I32, child_a: I32, child_b: I32, place: I64) -> None:
    """Number the nodes so that every node's leaves follow each other."""
    n = parent.size
    stack = np.empty(n, np.int32)
    n_placed = 0
    for top in range(1, n):
        if parent[top] != 0:
            continue
        stack[0] = top
        depth = 1
        while depth > 0:
            depth -= 1
            node = stack[depth]
            n_placed += 1
            place[node] = n_placed
            if child_a[node] >= 0:
                stack[depth] = child_b[node]
                stack[depth + 1] = child_a[node]
                depth += 2


@compiled
def _ranges(child_a: I32, child_b: I32, place: I64, counts: I64, n_leaves: int, first: I64, last: I64) -> None:
    n = place.size
    node_at = np.zeros(n, np.int64)
    for node in range(1, n):
        node_at[place[node]] = node
    position = 0
    for spot in range(1, n):
        node = node_at[spot]
        if 0 < node <= n_leaves:
            first[node] = position
            position += counts[node]
            last[node] = position
    for node in range(n_leaves + 1, n):
        first[node] = min(first[child_a[node]], first[child_b[node]])
        last[node] = max(last[child_a[node]], last[child_b[node]])
