/* The ground under a line, and the water that the storm shown leaves on it. */
import type { Ground, Spot } from "./ground";

/** Depth of standing water on a cell [m]. */
export type DepthOf = (cell: number) => number;

export interface ProfilePoint {
  readonly at: Spot;
  /** Way along the line [m]. */
  readonly run: number;
  /** [m], NaN where there is none. */
  readonly elev: number;
  readonly water: number;
}

const MAX_PARTS = 400;

/** Ground between the middles of four cells; where one of them is unknown, that of the cell itself. */
export function groundAt(ground: Ground, at: Spot): { elev: number; cell: number } {
  const [x, y] = ground.placeOf(at);
  const cell = ground.cellAt(at);
  if (cell < 0) {
    return { elev: NaN, cell };
  }
  const [col, row] = [Math.floor(x - 0.5), Math.floor(y - 0.5)];
  if (col < 0 || row < 0 || col + 1 >= ground.cols || row + 1 >= ground.rows) {
    return { elev: ground.elev(cell), cell };
  }
  const [east, south] = [x - 0.5 - col, y - 0.5 - row];
  const nw = row * ground.cols + col;
  const upper = ground.elev(nw) * (1 - east) + ground.elev(nw + 1) * east;
  const lower = ground.elev(nw + ground.cols) * (1 - east) + ground.elev(nw + ground.cols + 1) * east;
  const elev = upper * (1 - south) + lower * south;
  return { elev: Number.isNaN(elev) ? ground.elev(cell) : elev, cell };
}

/** Metres between two places, along the grid's own axes. */
export function metresBetween(ground: Ground, a: Spot, b: Spot): number {
  const [p, q] = [ground.placeOf(a), ground.placeOf(b)];
  return Math.hypot(p[0] - q[0], p[1] - q[1]) * ground.cell;
}

export function profileAlong(ground: Ground, depthOf: DepthOf, line: readonly Spot[]): ProfilePoint[] {
  const points: ProfilePoint[] = [];
  let run = 0;
  for (let leg = 1; leg < line.length; leg += 1) {
    const [from, to] = [line[leg - 1]!, line[leg]!];
    const length = metresBetween(ground, from, to);
    const parts = Math.max(1, Math.min(MAX_PARTS, Math.ceil(length / (ground.cell / 2))));
    for (let part = leg === 1 ? 0 : 1; part <= parts; part += 1) {
      const share = part / parts;
      const at = { lat: from.lat + share * (to.lat - from.lat), lng: from.lng + share * (to.lng - from.lng) };
      const { elev, cell } = groundAt(ground, at);
      points.push({ at, run: run + share * length, elev, water: cell < 0 ? 0 : depthOf(cell) });
    }
    run += length;
  }
  return points;
}

/** Ticks at 1, 2 or 5 times a power of ten, and the decimals that tell them apart. */
export function ticksOf(low: number, high: number, parts: number): { ticks: number[]; decimals: number } {
  const rough = Math.max(high - low, 1e-9) / parts;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((each) => each * power).find((each) => each >= rough) ?? 10 * power;
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) {
    // Zero has one sign.
    ticks.push(k * step + 0);
  }
  return { ticks, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

/** Runs of two and more points with water on them. */
export function wetParts(points: readonly ProfilePoint[]): ProfilePoint[][] {
  const parts: ProfilePoint[][] = [[]];
  for (const point of points) {
    if (point.water > 0) {
      parts[parts.length - 1]!.push(point);
    } else {
      parts.push([]);
    }
  }
  return parts.filter((part) => part.length > 1);
}
