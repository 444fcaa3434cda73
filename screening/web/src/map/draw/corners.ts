/* The corners of the shape that is edited, for those who use no pointer: each is moved to the middle of the map or to
   typed degrees, or removed. */
import { button, node, select } from "../../common/dom";
import type { Say } from "../../common/status";
import type { Spot } from "../ground";
import { typedPlace } from "../typed";
import { LEAST } from "./geometry";
import type { Shape } from "./form";
import { labelled } from "./fields";

export interface CornerEvents {
  readonly changed: (places: readonly Spot[]) => void;
  /** Another corner was picked in the list. */
  readonly picked: (corner: number) => void;
  readonly done: () => void;
}

export function cornersPanel(
  map: L.Map, say: Say, shape: Shape, places: readonly Spot[], picked: number, events: CornerEvents,
): HTMLElement[] {
  const which = select(places.map((_, i) => [String(i), `Corner ${i + 1} of ${places.length}`]));
  which.id = "draw-corner";
  which.value = String(Math.min(picked, places.length - 1));
  const at = (): number => Number(which.value);
  which.addEventListener("change", () => events.picked(at()));
  const replaced = (next: Spot): Spot[] => places.map((place, i) => (i === at() ? next : place));
  const inserted = (next: Spot): Spot[] => [...places.slice(0, at() + 1), next, ...places.slice(at() + 1)];
  const move = (to: Spot): void => events.changed(replaced(to));
  const row = node("div", "row");
  row.append(button("Move it to the middle of the map", () => move(map.getCenter())));
  if (shape !== "point") {
    row.append(button("Add one there after it", () => events.changed(inserted(map.getCenter()))));
  }
  if (places.length > LEAST[shape]) {
    row.append(button("Remove it", () => events.changed(places.filter((_, i) => i !== at()))));
  }
  const hint =
    shape === "point"
      ? "Drag it on the map, or move it here."
      : "Drag a corner, or a small dot between two to add one; right-click or hold a corner to remove it. Or:";
  const parts = [node("p", "hint", hint), labelled("Corner", which), row, typedPlace(map, say, move)];
  return [...parts, button("Done", events.done, "wide")];
}
