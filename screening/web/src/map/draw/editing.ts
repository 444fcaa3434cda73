/* Edits a shape that is drawn: by its corners on the map, or by those of the panel. */
import type { Geometry } from "geojson";
import { byId } from "../../common/dom";
import type { Spot } from "../ground";
import { cornersPanel } from "./corners";
import { geometryOf, placesOf, shapeOf } from "./geometry";
import { withGeometry, without } from "./history";
import { redraw, sizeOf } from "./redraw";
import type { ShapeEvents } from "./shapes";
import { sizeWords } from "./sizes";
import { offerSnapping } from "./snapping";
import type { State } from "./state";
import { tell } from "./view";

export function editItem(state: State, id: string): void {
  const { page } = state;
  state.leaveTool();
  page.panel.close();
  offerSnapping(page.map, page.layers);
  Object.assign(state, { edited: id, corner: 0 });
  page.mode.isDrawing = true;
  redraw(state);
  showCorners(state);
  byId("draw-corner").focus();
}

/** Ends the editing. */
export function leaveItem(state: State): void {
  state.edited = null;
  state.page.mode.isDrawing = false;
  state.label.remove();
  state.ring.remove();
  state.view.extra.replaceChildren();
  redraw(state);
  tell(state.view, "");
}

/** Takes an item away. */
export function removeItem(state: State, id: string): void {
  const { history } = state;
  history.commit(without(history.items(), id));
  leaveItem(state);
}

/** Shows the corners of what is edited; ends the editing where it is gone. */
export function showCorners(state: State): void {
  const item = state.history.items().find(({ properties }) => properties.id === state.edited);
  if (!item) {
    leaveItem(state);
    return;
  }
  const { page, view } = state;
  const shape = shapeOf(item.geometry);
  const events = {
    picked: (corner: number) => {
      state.corner = corner;
      state.ring.setLatLng(placesOf(item.geometry)[corner]!);
    },
    changed: (places: readonly Spot[]) => {
      commit(state, item.properties.id, geometryOf(shape, places), false);
      redraw(state);
      byId("draw-corner").focus();
    },
    done: () => leaveItem(state),
  };
  const places = placesOf(item.geometry);
  state.corner = Math.min(state.corner, places.length - 1);
  state.ring.setLatLng(places[state.corner]!).addTo(page.map);
  view.extra.replaceChildren(...cornersPanel(page.map, page.say, shape, places, state.corner, events));
  const size = sizeOf(state, item);
  tell(view, `${item.properties.id}${size ? `: ${size}` : ""}`);
}

function commit(state: State, id: string, geometry: Geometry, isSameStep: boolean): void {
  const { history } = state;
  const items = withGeometry(history.items(), id, geometry);
  if (isSameStep) {
    history.amend(items);
  } else {
    history.commit(items);
  }
  state.label.remove();
  showCorners(state);
}

/** What the shapes on the map tell of themselves. */
export function shapeEvents(current: () => State): ShapeEvents {
  return {
    edited: (id, geometry, isSameStep) => commit(current(), id, geometry, isSameStep),
    changing: (id, places) => {
      const state = current();
      const { page, label, ground } = state;
      const item = state.history.items().find(({ properties }) => properties.id === id);
      const between = (a: Spot, b: Spot): number => page.map.distance(a, b);
      const words = item ? sizeWords(shapeOf(item.geometry), places, page.units, ground, between) : "";
      if (words) {
        label.setLatLng(places[places.length - 1]!).setContent(words).addTo(page.map);
      }
    },
  };
}
