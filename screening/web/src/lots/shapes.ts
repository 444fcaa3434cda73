/* Shapes of all lots, unpacked from whole steps: one long list of points, cut into rings, cut into lots. */

export interface LotShapes {
  readonly n: number;
  /** x and y by turns, in steps. */
  readonly xy: Float64Array;
  /** Where the points of each ring begin in `xy`, and where the last ends. */
  readonly ringStart: readonly number[];
  /** Where the rings of each lot begin in `ringStart`, and where the last ends. */
  readonly lotRing: Int32Array;
  /** West, south, east, north of each lot; east < west where it has no shape. */
  readonly box: Float64Array;
  readonly bounds: Bounds;
}

export interface Bounds {
  readonly west: number;
  readonly south: number;
  readonly east: number;
  readonly north: number;
}

const EMPTY: Bounds = { west: 0, south: 0, east: 1000, north: 1000 };

/** Reads, for each lot, its number of rings; for each ring its number of points; then x and y as differences from the
    point before, wherever that was. */
export function unpackShapes(packed: Int32Array, n: number): LotShapes {
  const xy = new Float64Array(packed.length);
  const ringStart = [0];
  const lotRing = new Int32Array(n + 1);
  const box = new Float64Array(4 * n);
  let [at, used, x, y] = [0, 0, 0, 0];
  // Before each lot, `at` is where its numbers begin and (x, y) is the last point read.
  for (let lot = 0; lot < n; lot += 1) {
    let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let rings = packed[at++]!; rings > 0; rings -= 1) {
      for (let points = packed[at++]!; points > 0; points -= 1) {
        x += packed[at++]!;
        y += packed[at++]!;
        xy[used++] = x;
        xy[used++] = y;
        [west, east] = [Math.min(west, x), Math.max(east, x)];
        [south, north] = [Math.min(south, y), Math.max(north, y)];
      }
      ringStart.push(used);
    }
    lotRing[lot + 1] = ringStart.length - 1;
    box.set([west, south, east, north], 4 * lot);
  }
  return { n, xy, ringStart, lotRing, box, bounds: boundsOf(box, n) };
}

export function boxOf(shapes: Pick<LotShapes, "box">, lot: number): Bounds {
  const [west, south, east, north] = shapes.box.subarray(4 * lot, 4 * lot + 4);
  return { west: west!, south: south!, east: east!, north: north! };
}

export const hasShape = (shapes: LotShapes, lot: number): boolean =>
  shapes.box[4 * lot + 2]! >= shapes.box[4 * lot]!;

function boundsOf(box: Float64Array, n: number): Bounds {
  let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let lot = 0; lot < n; lot += 1) {
    const own = boxOf({ box }, lot);
    [west, east] = [Math.min(west, own.west), Math.max(east, own.east)];
    [south, north] = [Math.min(south, own.south), Math.max(north, own.north)];
  }
  return east > west ? { west, south, east, north } : EMPTY;
}

/** True if a place lies in a lot; holes are outside. */
export function holds(shapes: LotShapes, lot: number, px: number, py: number): boolean {
  const { xy, ringStart, lotRing } = shapes;
  let inside = false;
  for (let ring = lotRing[lot]!; ring < lotRing[lot + 1]!; ring += 1) {
    const [first, last] = [ringStart[ring]!, ringStart[ring + 1]! - 2];
    // A ray to the east crosses from `before` to `here`: an odd number of crossings is inside.
    for (let here = first, before = last; here <= last; before = here, here += 2) {
      const [x1, y1, x2, y2] = [xy[here]!, xy[here + 1]!, xy[before]!, xy[before + 1]!];
      if (y1 > py !== y2 > py && px < ((x2 - x1) * (py - y1)) / (y2 - y1) + x1) {
        inside = !inside;
      }
    }
  }
  return inside;
}

/** Adds the outline of a lot to a path. */
export function trace(
  shapes: LotShapes, to: CanvasPath, lot: number, toX: (x: number) => number, toY: (y: number) => number,
): void {
  const { xy, ringStart, lotRing } = shapes;
  for (let ring = lotRing[lot]!; ring < lotRing[lot + 1]!; ring += 1) {
    const first = ringStart[ring]!;
    for (let at = first; at < ringStart[ring + 1]!; at += 2) {
      const [x, y] = [toX(xy[at]!), toY(xy[at + 1]!)];
      if (at === first) {
        to.moveTo(x, y);
      } else {
        to.lineTo(x, y);
      }
    }
    to.closePath();
  }
}
