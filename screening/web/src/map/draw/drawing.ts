/* Draws a shape from its first corner to its last, and a drain's outlet after it. */
import { isNarrow } from "../../common/dom";
import type { Spot } from "../ground";
import { typedPlace } from "../typed";
import type { Shape } from "./form";
import { kindOf } from "./form";
import { geometryOf, LEAST } from "./geometry";
import type { Items } from "./history";
import { nextId } from "./history";
import { redraw } from "./redraw";
import { sizeWords } from "./sizes";
import { startSketch } from "./sketch";
import { offerSnapping } from "./snapping";
import type { Draft, State } from "./state";
import { setDoing, tell } from "./view";

/** A double click ends a line; the map is not to take it as a wish to zoom. */
const CALM_MS = 400;

export function begin(state: State): void {
  const { fields, view, form, history } = state;
  const read = fields.read();
  if ("wrong" in read) {
    tell(view, read.wrong, true);
    return;
  }
  const kind = kindOf(form, view.kinds.value);
  const properties = { id: nextId(history.items(), kind.prefix), kind: kind.kind, ...read.said };
  start(state, { properties, asksOutlet: fields.asksOutlet() }, fields.shape());
  const ask = "Click its corners one by one, then Finish or double-click.";
  tell(view, fields.shape() === "point" ? "Click its place." : ask);
}

function start(state: State, draft: Draft, shape: Shape, first: readonly Spot[] = []): void {
  const { page, view } = state;
  state.leaveTool();
  page.panel.close();
  page.map.doubleClickZoom.disable();
  offerSnapping(page.map, page.layers);
  state.draft = draft;
  page.mode.isDrawing = true;
  page.map.getContainer().classList.add("drawing");
  const events = {
    changed: (corners: readonly L.LatLng[], at: L.LatLng | null) => showSize(state, shape, corners, at),
    finished: (corners: readonly L.LatLng[]) => finished(state, shape, corners),
  };
  state.sketch = startSketch(page.map, shape, events, first);
  setDoing(view, "sketch", shape === "point", true);
  view.extra.replaceChildren(typedPlace(page.map, page.say, (at) => state.sketch?.add(at, true)));
  if (isNarrow()) {
    page.map.getContainer().scrollIntoView({ block: "start", behavior: "instant" });
  }
}

function showSize(state: State, shape: Shape, corners: readonly L.LatLng[], at: L.LatLng | null): void {
  const { page, view, label } = state;
  const between = (a: Spot, b: Spot): number => page.map.distance(a, b);
  const words = (places: readonly Spot[]): string => sizeWords(shape, places, page.units, state.ground, between);
  if (at === null && corners.length) {
    const size = words(corners);
    tell(view, `${corners.length} ${corners.length === 1 ? "corner" : "corners"}${size ? `: ${size}` : ""}`);
  }
  const [next, last] = [at ? [...corners, at] : corners, at ?? corners[corners.length - 1]];
  const text = words(next);
  if (text && last) {
    label.setLatLng(last).setContent(text).addTo(page.map);
  } else {
    label.remove();
  }
}

function itemOf(draft: Draft, shape: Shape, corners: readonly Spot[]): Items[number] {
  return { properties: draft.properties, geometry: geometryOf(shape, corners) };
}

function finished(state: State, shape: Shape, corners: readonly L.LatLng[]): void {
  const { draft, history, waiting, view, form } = state;
  if (!draft) {
    return;
  }
  if (draft.asksOutlet) {
    state.waiting = { draft, corners };
    const id = nextId(history.items(), kindOf(form, form.outlet).prefix, [draft.properties.id]);
    start(state, { properties: { id, kind: form.outlet }, asksOutlet: false }, "point");
    redraw(state, [itemOf(draft, shape, corners)]);
    tell(view, "Now click where its water comes out, on lower ground.");
    return;
  }
  const made = itemOf(draft, shape, corners);
  const before = waiting && itemOf(waiting.draft, "line", waiting.corners);
  const led = before && { ...before, properties: { ...before.properties, to: draft.properties.id } };
  history.commit([...history.items(), ...(led ? [led] : []), made]);
  end(state);
  tell(view, "Drawn. Save when all are there.");
}

export function finish(state: State): void {
  const { sketch, view } = state;
  if (sketch && sketch.corners().length < LEAST[sketch.shape]) {
    tell(view, `It needs ${LEAST[sketch.shape]} corners.`, true);
  } else {
    sketch?.finish();
  }
}

export function stop(state: State, text: string): void {
  state.sketch?.cancel();
  end(state);
  tell(state.view, text);
}

function end(state: State): void {
  const { page, label, view } = state;
  Object.assign(state, { sketch: null, draft: null, waiting: null });
  page.mode.isDrawing = false;
  page.map.getContainer().classList.remove("drawing");
  label.remove();
  view.extra.replaceChildren();
  window.setTimeout(() => {
    if (!state.sketch) {
      page.map.doubleClickZoom.enable();
    }
  }, CALM_MS);
  redraw(state);
}

/** Takes back one corner; before the first, goes back to the drain whose outlet was asked for, or ends. */
export function undoCorner(state: State): void {
  const { sketch, waiting } = state;
  if (sketch?.corners().length) {
    sketch.undo();
    if (!sketch.corners().length) {
      tell(state.view, "Click its corners one by one, then Finish or double-click.");
    }
  } else if (waiting) {
    sketch?.cancel();
    state.waiting = null;
    redraw(state);
    start(state, waiting.draft, "line", waiting.corners);
  } else {
    stop(state, "Nothing was drawn.");
  }
}
