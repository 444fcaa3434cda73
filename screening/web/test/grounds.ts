/* Grounds by hand: four rows and five columns of 2 m cells, or what a test asks for. */
import type { Ground } from "../src/map/ground";
import { FLOW, makeGround } from "../src/map/ground";
import type { PackedGround } from "../src/map/payload";

/** Flow directions by name, as a reader of a map would draw them. */
export const TO = { nw: 0, n: 1, ne: 2, w: 3, end: FLOW.ends, e: 5, sw: 6, s: 7, se: 8 } as const;

/** A degree of the made place is 100,000 cells, east and north: cell (row, col) has its corner at (-row, col) / 1e5. */
const CELLS_A_DEGREE = 100_000;

/** One cubic that is a straight line in u (column, longitude) or v (row, latitude). */
const line = (inU: number, inV: number): number[] => [0, inV, 0, 0, inU, 0, 0, 0, 0, 0];

export function packedOf(rows: number, cols: number, more: Partial<PackedGround> = {}): PackedGround {
  const center = [cols / 2 / CELLS_A_DEGREE, -rows / 2 / CELLS_A_DEGREE, cols / 2, rows / 2] as const;
  const reach = [cols / 2 / CELLS_A_DEGREE, rows / 2 / CELLS_A_DEGREE, cols / 2, rows / 2] as const;
  return {
    rows, cols, cell_m: 2, is_cut: false, base_m: 100, step_m: 0.01, elev: "", way: "", led: [], came: [],
    to_cell: [line(1, 0), line(0, -1)],
    to_degrees: [line(1, 0), line(0, -1)],
    center: [...center],
    reach: [...reach],
    ...more,
  };
}

/** A ground of elevations [m] and flow directions, row by row. */
export function groundOf(elev: number[][], flow: number[][], more: Partial<PackedGround> = {}): Ground {
  const packed = packedOf(elev.length, elev[0]!.length, more);
  const steps = Uint16Array.from(elev.flat(), (value) =>
    Number.isNaN(value) ? 65_535 : Math.round((value - packed.base_m) / packed.step_m),
  );
  return makeGround(packed, steps, Uint8Array.from(flow.flat()));
}

/** The place of a row and column of the made ground, in cells from its north-west corner. */
export const spot = (row: number, col: number): { lat: number; lng: number } => ({
  lat: -row / CELLS_A_DEGREE,
  lng: col / CELLS_A_DEGREE,
});
