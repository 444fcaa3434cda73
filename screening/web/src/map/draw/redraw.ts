/* Shows what is drawn: on the map, in the list, and what can be saved. */
import { kindOf } from "./form";
import { placesOf, shapeOf } from "./geometry";
import type { Items } from "./history";
import { isStudied } from "./save";
import { sizeWords } from "./sizes";
import type { State } from "./state";
import { setDoing, showList } from "./view";

/** Ids of what water can be led to. */
const endsOf = (state: State, items: Items): string[] =>
  items.filter((item) => kindOf(state.form, item.properties.kind).takes_water).map((item) => item.properties.id);

export function sizeOf(state: State, item: Items[number]): string {
  const { page, ground } = state;
  const places = placesOf(item.geometry);
  return sizeWords(shapeOf(item.geometry), places, page.units, ground, (a, b) => page.map.distance(a, b));
}

/** Shows all; `more` is drawn with them and not yet kept. */
export function redraw(state: State, more: Items = []): void {
  const { history, shapes, view, fields, form, edited } = state;
  const items = history.items();
  shapes.draw([...items, ...more], edited);
  if (state.sketch) {
    return;
  }
  setDoing(view, edited ? "edit" : "nothing", false, history.canUndo());
  if (!edited) {
    fields.show(kindOf(form, view.kinds.value), endsOf(state, items));
  }
  showList(view, items, {
    nameOf: (item) => `${kindOf(form, item.properties.kind).label} ${item.properties.id}`,
    sizeOf: (item) => sizeOf(state, item),
    edit: state.actions.edit,
    remove: state.actions.remove,
  });
  view.saves.improvements.disabled = items.every((item) => isStudied(form, item));
  view.saves.driveways.hidden = !items.some((item) => isStudied(form, item));
}
