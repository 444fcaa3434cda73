/* The map of all lots: a canvas that is moved and zoomed by pointer, wheel and keys. */
import { byId } from "../common/dom";
import type { LotsIn } from "./lattice";
import type { Bounds, LotShapes } from "./shapes";
import { boxOf, hasShape, holds, trace } from "./shapes";
import type { Tiles } from "./tiles";
import { TILE_PX } from "./tiles";

/** A pixel is 2^level steps, so that tiles can be kept. */
const [NEAREST, FARTHEST] = [-4, 16];
const CHOSEN_LEVEL = 3;
const KEY_STEP_PX = 60;
const DRAG_PX = 3;

export interface LotsMap {
  readonly redraw: () => void;
  readonly fit: () => void;
  readonly goTo: (lot: number) => void;
}

interface View {
  readonly canvas: HTMLCanvasElement;
  readonly pen: CanvasRenderingContext2D;
  readonly shapes: LotShapes;
  readonly tiles: Tiles;
  readonly chosen: () => number;
  level: number;
  x: number;
  y: number;
  isDue: boolean;
}

export interface MapParts {
  readonly shapes: LotShapes;
  readonly lotsIn: LotsIn;
  readonly tiles: Tiles;
  readonly isShown: (lot: number) => boolean;
  readonly chosen: () => number;
  /** -1 = none. */
  readonly pick: (lot: number) => void;
}

export function makeLotsMap(parts: MapParts): LotsMap {
  const { shapes, tiles, chosen } = parts;
  const canvas = byId("map") as HTMLCanvasElement;
  const { bounds } = shapes;
  const [x, y] = [(bounds.west + bounds.east) / 2, (bounds.south + bounds.north) / 2];
  const view: View = { canvas, pen: canvas.getContext("2d")!, shapes, tiles, chosen, level: 0, x, y, isDue: false };
  const fit = (): void => {
    fitTo(view, bounds);
  };
  byId("in").onclick = () => zoom(view, -1);
  byId("out").onclick = () => zoom(view, 1);
  byId("all").onclick = fit;
  takePointer(view, (px, py) => {
    const at = { west: px, south: py, east: px, north: py };
    const found = parts.lotsIn(at).find((lot) => parts.isShown(lot) && holds(shapes, lot, px, py));
    parts.pick(found ?? -1);
  });
  takeKeys(view);
  return {
    redraw: () => redraw(view),
    fit,
    goTo: (lot) => {
      if (hasShape(shapes, lot)) {
        const box = boxOf(shapes, lot);
        Object.assign(view, { x: (box.west + box.east) / 2, y: (box.south + box.north) / 2 });
        view.level = Math.min(view.level, CHOSEN_LEVEL);
      }
      redraw(view);
    },
  };
}

function redraw(view: View): void {
  if (!view.isDue) {
    view.isDue = true;
    requestAnimationFrame(() => draw(view));
  }
}

function draw(view: View): void {
  const { canvas, pen, level } = view;
  view.isDue = false;
  const [wide, high, step] = [canvas.clientWidth, canvas.clientHeight, 2 ** level];
  if (canvas.width !== wide || canvas.height !== high) {
    Object.assign(canvas, { width: wide, height: high });
  }
  pen.clearRect(0, 0, wide, high);
  const [left, top] = [view.x / step - wide / 2, -view.y / step - high / 2];
  for (let down = Math.floor(top / TILE_PX); down * TILE_PX < top + high; down += 1) {
    for (let across = Math.floor(left / TILE_PX); across * TILE_PX < left + wide; across += 1) {
      const tile = view.tiles.tile(level, across, down);
      if (tile) {
        pen.drawImage(tile, Math.round(across * TILE_PX - left), Math.round(down * TILE_PX - top));
      }
    }
  }
  if (view.chosen() >= 0) {
    pen.beginPath();
    trace(view.shapes, pen, view.chosen(), (x) => x / step - left, (y) => -y / step - top);
    Object.assign(pen, { lineWidth: 4, strokeStyle: "#0b4f8a" });
    pen.stroke();
  }
}

function fitTo(view: View, bounds: Bounds): void {
  const [wide, high] = [Math.max(view.canvas.clientWidth, 100), Math.max(view.canvas.clientHeight, 100)];
  const step = Math.max((bounds.east - bounds.west) / wide, (bounds.north - bounds.south) / high);
  view.level = Math.ceil(Math.log2(step));
  Object.assign(view, { x: (bounds.west + bounds.east) / 2, y: (bounds.south + bounds.north) / 2 });
  redraw(view);
}

function zoom(view: View, by: number): void {
  view.level = Math.min(Math.max(view.level + by, NEAREST), FARTHEST);
  redraw(view);
}

function moveBy(view: View, rightPx: number, downPx: number): void {
  const step = 2 ** view.level;
  view.x += rightPx * step;
  view.y -= downPx * step;
  redraw(view);
}

/** Drags move the map; a press without one picks a place, in steps. */
function takePointer(view: View, pick: (x: number, y: number) => void): void {
  const { canvas } = view;
  let drag: { x: number; y: number; moved: boolean } | null = null;
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(view, Math.sign(event.deltaY));
  }, { passive: false });
  canvas.addEventListener("pointerdown", (event) => {
    drag = { x: event.clientX, y: event.clientY, moved: false };
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!drag) {
      return;
    }
    const [right, down] = [event.clientX - drag.x, event.clientY - drag.y];
    if (Math.hypot(right, down) > DRAG_PX || drag.moved) {
      moveBy(view, -right, -down);
      drag = { x: event.clientX, y: event.clientY, moved: true };
    }
  });
  canvas.addEventListener("pointerup", (event) => {
    if (drag && !drag.moved) {
      const edge = canvas.getBoundingClientRect();
      const step = 2 ** view.level;
      const right = event.clientX - edge.left - canvas.clientWidth / 2;
      const down = event.clientY - edge.top - canvas.clientHeight / 2;
      pick(view.x + right * step, view.y - down * step);
    }
    drag = null;
  });
}

const ARROWS: Readonly<Record<string, readonly [right: number, down: number]>> = {
  ArrowLeft: [-KEY_STEP_PX, 0], ArrowRight: [KEY_STEP_PX, 0], ArrowUp: [0, -KEY_STEP_PX], ArrowDown: [0, KEY_STEP_PX],
};

function takeKeys(view: View): void {
  view.canvas.addEventListener("keydown", (event) => {
    const arrow = ARROWS[event.key];
    if (arrow) {
      moveBy(view, ...arrow);
      event.preventDefault();
    } else if (event.key === "+" || event.key === "-") {
      zoom(view, event.key === "+" ? -1 : 1);
    }
  });
}
