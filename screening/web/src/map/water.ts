/* Where the water of a place goes, and what drains to it, by the flow directions that the screening found. */
import type { Ground } from "./ground";
import { FLOW, isKnown, rowCol } from "./ground";

export type PathEnd = "edge" | "leaves" | "gap";

export interface FlowPath {
  readonly cells: readonly number[];
  readonly length_m: number;
  readonly end: PathEnd;
}

export interface Catchment {
  /** 1 for each cell that drains to the place. */
  readonly isIn: Uint8Array;
  readonly nCells: number;
  readonly area_m2: number;
  /** Part of the area that lies beyond the ground of the page [m2]. */
  readonly beyond_m2: number;
  readonly mayBeMore: boolean;
  readonly highest: number;
}

export function followWater(ground: Ground, cell: number): FlowPath {
  const cells = [cell];
  let length = 0;
  let here = cell;
  for (;;) {
    const next = ground.receiverOf(here);
    if (next < 0 || next === here) {
      return { cells, length_m: length, end: endOf(ground, here) };
    }
    const [row, col] = rowCol(ground, here);
    const [nextRow, nextCol] = rowCol(ground, next);
    length += Math.hypot(nextRow - row, nextCol - col) * ground.cell;
    cells.push(next);
    here = next;
  }
}

function endOf(ground: Ground, cell: number): PathEnd {
  if ((ground.flow[cell]! & FLOW.mask) === FLOW.leaves) {
    return "leaves";
  }
  const [row, col] = rowCol(ground, cell);
  return row === 0 || col === 0 || row === ground.rows - 1 || col === ground.cols - 1 ? "edge" : "gap";
}

interface Donors {
  readonly start: Uint32Array;
  readonly donor: Uint32Array;
}

const donorsKept = new WeakMap<Ground, Donors>();
const areasKept = new WeakMap<Ground, Float64Array>();

/** Cells that drain to each cell, as one list cut into parts: the flow directions turned round. */
export function donorsOf(ground: Ground): Donors {
  const kept = donorsKept.get(ground);
  if (kept) {
    return kept;
  }
  const size = ground.rows * ground.cols;
  const start = new Uint32Array(size + 1);
  const each = (use: (cell: number, to: number) => void): void => {
    for (let cell = 0; cell < size; cell += 1) {
      const to = ground.receiverOf(cell);
      if (to >= 0 && to !== cell) {
        use(cell, to);
      }
    }
  };
  each((_, to) => {
    start[to + 1]! += 1;
  });
  // start[cell] counts the donors of all cells before it.
  for (let cell = 0; cell < size; cell += 1) {
    start[cell + 1]! += start[cell]!;
  }
  const donor = new Uint32Array(start[size]!);
  const next = start.slice();
  each((cell, to) => {
    donor[next[to]!] = cell;
    next[to]! += 1;
  });
  const found = { start, donor };
  donorsKept.set(ground, found);
  return found;
}

/** Ground that drains through each cell [m2]: each is done when all that drain to it are. */
export function areasOf(ground: Ground): Float64Array {
  const kept = areasKept.get(ground);
  if (kept) {
    return kept;
  }
  const { start } = donorsOf(ground);
  const size = ground.rows * ground.cols;
  const areas = new Float64Array(size).fill(ground.cell * ground.cell);
  ground.came.forEach((area, cell) => {
    areas[cell]! += area;
  });
  const left = new Uint32Array(size);
  const ready: number[] = [];
  for (let cell = 0; cell < size; cell += 1) {
    left[cell] = start[cell + 1]! - start[cell]!;
    if (!left[cell]) {
      ready.push(cell);
    }
  }
  // What is ready has the water of all its donors.
  for (let cell = ready.pop(); cell !== undefined; cell = ready.pop()) {
    const to = ground.receiverOf(cell);
    if (to < 0 || to === cell) {
      continue;
    }
    areas[to]! += areas[cell]!;
    left[to]! -= 1;
    if (!left[to]) {
      ready.push(to);
    }
  }
  areasKept.set(ground, areas);
  return areas;
}

/** The cell within a reach [m] through which most ground drains: a channel is easily missed by a cell. */
export function strongestNear(ground: Ground, cell: number, reach: number): number {
  const areas = areasOf(ground);
  const [row, col] = rowCol(ground, cell);
  const wide = Math.max(1, Math.floor(reach / ground.cell));
  let best = cell;
  for (let r = Math.max(0, row - wide); r <= Math.min(ground.rows - 1, row + wide); r += 1) {
    for (let c = Math.max(0, col - wide); c <= Math.min(ground.cols - 1, col + wide); c += 1) {
      const here = r * ground.cols + c;
      if (Math.hypot(r - row, c - col) <= wide && isKnown(ground, here) && areas[here]! > areas[best]!) {
        best = here;
      }
    }
  }
  return best;
}

export function catchmentOf(ground: Ground, cell: number): Catchment {
  const { start, donor } = donorsOf(ground);
  const isIn = new Uint8Array(ground.rows * ground.cols);
  const waiting = [cell];
  isIn[cell] = 1;
  let [nCells, beyond, mayBeMore, highest] = [0, 0, false, cell];
  // Each cell has one receiver, so none waits twice.
  for (let here = waiting.pop(); here !== undefined; here = waiting.pop()) {
    nCells += 1;
    beyond += ground.came.get(here) ?? 0;
    mayBeMore ||= (ground.flow[here]! & FLOW.mayBeMore) > 0;
    if (ground.elev(here) > ground.elev(highest)) {
      highest = here;
    }
    for (let k = start[here]!; k < start[here + 1]!; k += 1) {
      isIn[donor[k]!] = 1;
      waiting.push(donor[k]!);
    }
  }
  const area_m2 = nCells * ground.cell * ground.cell + beyond;
  return { isIn, nCells, area_m2, beyond_m2: beyond, mayBeMore, highest };
}
