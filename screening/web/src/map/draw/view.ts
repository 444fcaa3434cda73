/* The panel of the drawing tool. */
import { button, node, select } from "../../common/dom";
import type { DrawForm } from "./form";
import type { Fields } from "./fields";
import { labelled } from "./fields";
import type { Items } from "./history";

const TITLE = "Draw improvements";

export interface ViewEvents {
  readonly toggle: () => void;
  readonly close: () => void;
  readonly kindChosen: () => void;
  readonly begin: () => void;
  readonly finish: () => void;
  readonly addMiddle: () => void;
  readonly undo: () => void;
  readonly cancel: () => void;
  readonly saveImprovements: () => void;
  readonly saveDriveways: () => void;
}

export interface View {
  readonly opener: HTMLButtonElement;
  readonly panel: HTMLElement;
  readonly kinds: HTMLSelectElement;
  /** While a shape is drawn: typed places; while one is edited: its corners. */
  readonly extra: HTMLElement;
  readonly list: HTMLElement;
  readonly say: HTMLElement;
  readonly buttons: Readonly<Record<"start" | "finish" | "middle" | "undo" | "cancel", HTMLButtonElement>>;
  readonly saves: Readonly<Record<"improvements" | "driveways", HTMLButtonElement>>;
}

export type Doing = "nothing" | "sketch" | "edit";

export function makeView(form: DrawForm, fields: Fields, events: ViewEvents): View {
  const opener = button("Draw", events.toggle, "draw-open");
  opener.setAttribute("aria-label", TITLE);
  opener.title = TITLE;
  opener.setAttribute("aria-expanded", "false");
  const kinds = select(form.kinds.map((kind) => [kind.kind, kind.label]));
  kinds.id = "draw-kind";
  kinds.addEventListener("change", events.kindChosen);
  const buttons = {
    start: button("Draw on the map", events.begin),
    finish: button("Finish", events.finish),
    middle: button("Add the middle of the map", events.addMiddle),
    undo: button("Undo", events.undo),
    cancel: button("Cancel", events.cancel),
  };
  const saves = {
    improvements: button(`Save ${form.improvements.name}`, events.saveImprovements),
    driveways: button(`Save ${form.driveways.name}`, events.saveDriveways),
  };
  const [extra, list, say] = [node("div", "extra"), node("ul"), node("p", "say")];
  say.setAttribute("role", "status");
  const head = row(node("h2", "", TITLE), button("Close", events.close));
  head.classList.add("head");
  const panel = node("section", "draw-panel");
  panel.setAttribute("aria-label", TITLE);
  const saving = row(saves.improvements, saves.driveways);
  saving.classList.add("saving");
  const { start, finish, middle, undo, cancel } = buttons;
  const kindLabel = labelled("What", kinds);
  kindLabel.classList.add("what");
  panel.append(head, kindLabel, fields.box, row(start, finish, middle, undo, cancel), say, extra, list, saving);
  return { opener, panel, kinds, extra, list, say, buttons, saves };
}

function row(...parts: HTMLElement[]): HTMLElement {
  const made = node("div", "row");
  made.append(...parts);
  return made;
}

/** Shows what can be used now. */
export function setDoing(view: View, doing: Doing, isPoint: boolean, canUndo: boolean): void {
  const { start, finish, middle, undo, cancel } = view.buttons;
  start.hidden = doing !== "nothing";
  finish.hidden = doing !== "sketch" || isPoint;
  middle.hidden = doing !== "sketch";
  cancel.hidden = doing !== "sketch";
  undo.hidden = doing !== "sketch" && !canUndo;
  view.kinds.disabled = doing !== "nothing";
  view.panel.classList.toggle("busy", doing !== "nothing");
}

export function tell(view: View, text: string, isWrong = false): void {
  view.say.textContent = text;
  view.say.classList.toggle("wrong", isWrong);
}

export interface ListEvents {
  readonly nameOf: (item: Items[number]) => string;
  readonly sizeOf: (item: Items[number]) => string;
  readonly edit: (id: string) => void;
  readonly remove: (id: string) => void;
}

export function showList(view: View, items: Items, events: ListEvents): void {
  view.list.replaceChildren(
    ...items.map((item) => {
      const { id } = item.properties;
      const [line, text] = [node("li"), node("span", "name", events.nameOf(item))];
      text.append(node("span", "size", events.sizeOf(item)));
      const [edit, remove] = [button("Edit", () => events.edit(id)), button("Remove", () => events.remove(id))];
      edit.setAttribute("aria-label", `Edit ${id}`);
      remove.setAttribute("aria-label", `Remove ${id}`);
      line.append(text, edit, remove);
      return line;
    }),
  );
}
