/* The ground that the page carries: elevation and flow directions by cell, places in degrees and back. */
import { inflate, readSteps } from "../common/unpack";
import type { PackedGround } from "./payload";

/** A place in degrees; what the map's events give is one too. */
export interface Spot {
  readonly lat: number;
  readonly lng: number;
}

/** Flow directions beside 0 to 8 (row by row from the north-west neighbor), and the bit of unseen water. */
export const FLOW = { ends: 4, unknown: 9, led: 10, leaves: 11, mask: 15, mayBeMore: 16 } as const;
const NO_DATA = 65_535;

export interface Ground {
  readonly rows: number;
  readonly cols: number;
  /** Side of a cell [m]. */
  readonly cell: number;
  readonly flow: Uint8Array;
  /** Ground beyond the page that drains to a cell [m2], by cell. */
  readonly came: ReadonlyMap<number, number>;
  /** Elevation of a cell [m], NaN where there is none. */
  readonly elev: (cell: number) => number;
  /** The cell downstream; the cell itself where water ends, -1 where it leaves or is unknown. */
  readonly receiverOf: (cell: number) => number;
  /** Column and row of a place, in cells from the north-west corner. */
  readonly placeOf: (at: Spot) => [col: number, row: number];
  readonly spotOf: (col: number, row: number) => Spot;
  /** -1 off the ground. */
  readonly cellAt: (at: Spot) => number;
  readonly middleOf: (cell: number) => Spot;
}

/** Sum of a cubic's terms, in the order of the powers of u, then of v. */
export function cubicOf(coefficients: readonly number[], u: number, v: number): number {
  let sum = 0;
  let at = 0;
  for (let i = 0; i < 4; i += 1) {
    for (let j = 0; j < 4 - i; j += 1) {
      sum += coefficients[at]! * u ** i * v ** j;
      at += 1;
    }
  }
  return sum;
}

/** Puts the unpacked parts of the ground together. */
export function makeGround(packed: PackedGround, steps: Uint16Array, flow: Uint8Array): Ground {
  const { rows, cols, center, reach } = packed;
  const led = new Map(packed.led);
  const placeOf = (at: Spot): [number, number] => {
    const [u, v] = [(at.lng - center[0]) / reach[0], (at.lat - center[1]) / reach[1]];
    const [col, row] = packed.to_cell;
    return [center[2] + reach[2] * cubicOf(col, u, v), center[3] + reach[3] * cubicOf(row, u, v)];
  };
  const spotOf = (col: number, row: number): Spot => {
    const [u, v] = [(col - center[2]) / reach[2], (row - center[3]) / reach[3]];
    const [lng, lat] = packed.to_degrees;
    return { lat: center[1] + reach[1] * cubicOf(lat, u, v), lng: center[0] + reach[0] * cubicOf(lng, u, v) };
  };
  return {
    rows,
    cols,
    cell: packed.cell_m,
    flow,
    came: new Map(packed.came),
    elev: (cell) => (steps[cell] === NO_DATA ? NaN : packed.base_m + packed.step_m * steps[cell]!),
    receiverOf: (cell) => {
      const direction = flow[cell]! & FLOW.mask;
      if (direction === FLOW.led) {
        return led.get(cell) ?? -1;
      }
      return direction < 9 ? cell + (Math.floor(direction / 3) - 1) * cols + (direction % 3) - 1 : -1;
    },
    placeOf,
    spotOf,
    cellAt: (at) => {
      const [col, row] = placeOf(at).map(Math.floor) as [number, number];
      return col < 0 || row < 0 || col >= cols || row >= rows ? -1 : row * cols + col;
    },
    middleOf: (cell) => spotOf((cell % cols) + 0.5, Math.floor(cell / cols) + 0.5),
  };
}

export const isKnown = (ground: Ground, cell: number): boolean =>
  cell >= 0 && (ground.flow[cell]! & FLOW.mask) !== FLOW.unknown;

/** Row and column of a cell. */
export const rowCol = (ground: Ground, cell: number): [row: number, col: number] => [
  Math.floor(cell / ground.cols),
  cell % ground.cols,
];

export async function unpackGround(packed: PackedGround): Promise<Ground> {
  const steps = readSteps(await inflate(packed.elev, "deflate"), packed.rows, packed.cols);
  return makeGround(packed, steps, await inflate(packed.way, "deflate"));
}
