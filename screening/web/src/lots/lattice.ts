/* Which lots lie in a window: lots by the cells of a lattice that their boxes meet. */
import type { Bounds, LotShapes } from "./shapes";
import { boxOf, hasShape } from "./shapes";

const LOTS_A_CELL = 4;

/** Numbers of the lots whose boxes meet a window, from the lowest. */
export type LotsIn = (window: Bounds) => number[];

export function makeLattice(shapes: LotShapes): LotsIn {
  const { n, bounds } = shapes;
  const area = (bounds.east - bounds.west) * (bounds.north - bounds.south);
  const side = Math.max(Math.sqrt(area / Math.max(n / LOTS_A_CELL, 1)), 1);
  const nCols = Math.floor((bounds.east - bounds.west) / side) + 1;
  const nRows = Math.floor((bounds.north - bounds.south) / side) + 1;
  const cell = (value: number, low: number, count: number): number =>
    Math.min(Math.max(Math.floor((value - low) / side), 0), count - 1);
  const cellsOf = function* (box: Bounds): Generator<number> {
    for (let r = cell(box.south, bounds.south, nRows); r <= cell(box.north, bounds.south, nRows); r += 1) {
      for (let c = cell(box.west, bounds.west, nCols); c <= cell(box.east, bounds.west, nCols); c += 1) {
        yield r * nCols + c;
      }
    }
  };
  const lattice = new Map<number, number[]>();
  for (let lot = 0; lot < n; lot += 1) {
    if (!hasShape(shapes, lot)) {
      continue;
    }
    for (const key of cellsOf(boxOf(shapes, lot))) {
      const known = lattice.get(key);
      if (known) {
        known.push(lot);
      } else {
        lattice.set(key, [lot]);
      }
    }
  }
  return (window) => {
    const found = new Set<number>();
    if (!meet(window, bounds)) {
      return [];
    }
    for (const key of cellsOf(window)) {
      for (const lot of lattice.get(key) ?? []) {
        if (meet(boxOf(shapes, lot), window)) {
          found.add(lot);
        }
      }
    }
    return [...found].sort((a, b) => a - b);
  };
}

const meet = (a: Bounds, b: Bounds): boolean =>
  a.west <= b.east && a.east >= b.west && a.south <= b.north && a.north >= b.south;
