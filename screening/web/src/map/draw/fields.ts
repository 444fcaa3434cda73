/* The fields of a kind: its shape, where its water goes, numbers and choices. */
import { node, select } from "../../common/dom";
import type { FormKind, FormNumber, Properties, Shape } from "./form";
import { readNumbers } from "./numbers";

/** Value of the choice that has the outlet placed next. */
const NEXT = "next";
const OFF = "off";
/** With more numbers and choices than these, those that may be left out are folded away. */
const MOST_OPEN = 4;

export interface Fields {
  readonly box: HTMLElement;
  readonly show: (kind: FormKind, ends: readonly string[]) => void;
  /** What the fields say, but for id and kind; or what is wrong with them. */
  readonly read: () => { readonly said: Omit<Properties, "id" | "kind"> } | { readonly wrong: string };
  readonly shape: () => Shape;
  readonly asksOutlet: () => boolean;
}

export function makeFields(first: FormKind): Fields {
  const box = node("div", "fields");
  let kind = first;
  const valueOf = (name: string): string =>
    box.querySelector<HTMLInputElement>(`[data-name="${name}"]`)?.value.trim() ?? "";
  return {
    box,
    show: (next, ends) => {
      kind = next;
      box.replaceChildren(...partsOf(kind, ends));
    },
    read: () => {
      const entries = kind.numbers.map((_, i) => ({
        name: box.querySelector<HTMLSelectElement>(`[data-unit="${i}"]`)?.value ?? "",
        text: box.querySelector<HTMLInputElement>(`[data-number="${i}"]`)?.value ?? "",
      }));
      const found = readNumbers(kind, entries);
      if ("wrong" in found) {
        return found;
      }
      const words: Record<string, string> = {};
      for (const name of ["structure_id", "to", ...kind.choices.map((choice) => choice[0])]) {
        const value = valueOf(name);
        if (value && value !== NEXT) {
          words[name] = value;
        }
      }
      return { said: { ...found.values, ...words } };
    },
    shape: () => (kind.shapes.length > 1 ? (valueOf("shape") as Shape) : kind.shapes[0]!),
    asksOutlet: () => valueOf("to") === NEXT,
  };
}

function partsOf(kind: FormKind, ends: readonly string[]): HTMLElement[] {
  const open: HTMLElement[] = [];
  const more = node("details");
  more.append(node("summary", "", "Its dimensions and use, if known"));
  const isFolded = kind.numbers.length + kind.choices.length > MOST_OPEN;
  const put = (part: HTMLElement, isNeeded: boolean): void => {
    if (isFolded && !isNeeded) {
      more.append(part);
    } else {
      open.push(part);
    }
  };
  if (kind.shapes.length > 1) {
    put(named("shape", "Drawn as", select(kind.shapes.map((shape) => [shape, shape]))), true);
  }
  if (kind.leads) {
    put(named("to", "Its water goes to", leadsOf(kind, ends)), true);
  }
  kind.numbers.forEach((number, i) => put(numberField(number, i), number.is_needed));
  if (kind.has_structure) {
    put(named("structure_id", "Structure (id on the map)", node("input")), false);
  }
  for (const [name, label, values] of kind.choices) {
    const options = values.map((value) => [value, value] as const);
    put(named(name, label, select([["", "not known"], ...options])), false);
  }
  return more.children.length > 1 ? [...open, more] : open;
}

function leadsOf(kind: FormKind, ends: readonly string[]): HTMLSelectElement {
  const first = kind.needs_outlet
    ? ([NEXT, "an outlet, placed next"] as const)
    : (["", "the ground where it is drawn to"] as const);
  return select([first, [OFF, "taken off the ground"], ...ends.map((id) => [id, id] as const)]);
}

export function labelled(text: string, ...parts: HTMLElement[]): HTMLLabelElement {
  const label = node("label", "", text);
  const pair = node("span", "pair");
  pair.append(...parts);
  label.append(pair);
  return label;
}

function named(name: string, label: string, input: HTMLInputElement | HTMLSelectElement): HTMLElement {
  input.dataset.name = name;
  input.id = `draw-${name}`;
  return labelled(label, input);
}

function numberField(number: FormNumber, i: number): HTMLElement {
  const input = node("input");
  input.inputMode = "decimal";
  input.dataset.number = String(i);
  input.id = `draw-${number.names[0]![0]}`;
  const unit = select(number.names);
  unit.dataset.unit = String(i);
  unit.setAttribute("aria-label", `Unit of ${number.label}`);
  return labelled(number.label + (number.is_needed ? " (needed)" : ""), input, unit);
}
