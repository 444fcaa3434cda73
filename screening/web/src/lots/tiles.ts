/* Tiles of the map, drawn when first looked at and kept for a while. */
import { colorOf, N_CLASSES } from "./classes";
import type { LotsIn } from "./lattice";
import type { LotShapes } from "./shapes";
import { boxOf, trace } from "./shapes";

export const TILE_PX = 256;
const MOST_KEPT = 400;
/** Smaller lots are drawn as rectangles. */
const SMALL_PX = 4;
const LOTS_A_PATH = 100;

export interface Tiles {
  /** The tile at a level (a pixel is 2^level steps) and place; null where it has no lot. */
  readonly tile: (level: number, across: number, down: number) => HTMLCanvasElement | null;
  readonly clear: () => void;
}

export function makeTiles(
  shapes: LotShapes, lotsIn: LotsIn, lotClass: Int8Array, isShown: (lot: number) => boolean,
): Tiles {
  const kept = new Map<string, HTMLCanvasElement | null>();
  const make = (step: number, across: number, down: number): HTMLCanvasElement | null => {
    const [west, north] = [across * TILE_PX * step, -down * TILE_PX * step];
    const lots = lotsIn({ west, south: north - TILE_PX * step, east: west + TILE_PX * step, north });
    if (!lots.length) {
      return null;
    }
    const made = document.createElement("canvas");
    made.width = made.height = TILE_PX;
    const pen = made.getContext("2d")!;
    Object.assign(pen, { strokeStyle: "#3c3c3c", lineWidth: 0.6 });
    for (let k = -1; k < N_CLASSES; k += 1) {
      pen.fillStyle = colorOf(k);
      const own = lots.filter((lot) => lotClass[lot] === k && isShown(lot));
      drawLots(pen, shapes, own, { step, west, north });
    }
    return made;
  };
  return {
    tile: (level, across, down) => {
      const key = `${level}/${across}/${down}`;
      const made = kept.has(key) ? kept.get(key)! : make(2 ** level, across, down);
      // What was looked at last goes to the end; the first is let go.
      kept.delete(key);
      kept.set(key, made);
      if (kept.size > MOST_KEPT) {
        kept.delete(kept.keys().next().value!);
      }
      return made;
    },
    clear: () => kept.clear(),
  };
}

interface Frame {
  readonly step: number;
  readonly west: number;
  readonly north: number;
}

/** Fills many lots as one path: a path for each is slow. */
function drawLots(pen: CanvasRenderingContext2D, shapes: LotShapes, lots: readonly number[], frame: Frame): void {
  const { step, west, north } = frame;
  const toX = (x: number): number => (x - west) / step;
  const toY = (y: number): number => (north - y) / step;
  for (let first = 0; first < lots.length; first += LOTS_A_PATH) {
    pen.beginPath();
    let isSmall = true;
    for (const lot of lots.slice(first, first + LOTS_A_PATH)) {
      const box = boxOf(shapes, lot);
      const [wide, high] = [(box.east - box.west) / step, (box.north - box.south) / step];
      if (Math.max(wide, high) < SMALL_PX) {
        pen.rect(toX(box.west), toY(box.north), Math.max(wide, 1), Math.max(high, 1));
      } else {
        trace(shapes, pen, lot, toX, toY);
        isSmall = false;
      }
    }
    pen.fill("evenodd");
    if (!isSmall) {
      pen.stroke();
    }
  }
}
