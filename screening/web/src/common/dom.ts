/* Elements made from plain text: text of the data reaches a page through textContent alone. */

export function byId(id: string): HTMLElement {
  const found = document.getElementById(id);
  if (!found) {
    throw new Error(`The page has no element ${id}`);
  }
  return found;
}

/** All elements that a selector names, as an array. */
export function all<E extends Element = HTMLElement>(selector: string): E[] {
  return Array.from(document.querySelectorAll<E>(selector));
}

export const isCalm = (): boolean => window.matchMedia("(prefers-reduced-motion: reduce)").matches;
export const isNarrow = (): boolean => window.matchMedia("(max-width: 760px)").matches;

export function node<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  className = "",
  text?: string,
): HTMLElementTagNameMap[K] {
  const made = document.createElement(tag);
  if (className) {
    made.className = className;
  }
  if (text !== undefined) {
    made.textContent = text;
    made.dir = "auto";
  }
  return made;
}

export function button(text: string, whenUsed: () => void, className = ""): HTMLButtonElement {
  const made = node("button", className, text);
  made.type = "button";
  made.addEventListener("click", whenUsed);
  return made;
}

/** A list of options, each with the text that stands for its value. */
export function select(options: readonly (readonly [value: string, text: string])[]): HTMLSelectElement {
  const made = node("select");
  for (const [value, text] of options) {
    made.append(new Option(text, value));
  }
  return made;
}

/** Term, value and, where there is one, what the term means. */
export type NumberRow = readonly [term: string, value: string, meaning?: string];

export function numberList(rows: readonly NumberRow[]): HTMLDListElement {
  const list = node("dl");
  for (const [term, value, meaning] of rows) {
    const name = node("dt", "", term);
    if (meaning) {
      name.title = meaning;
    }
    list.append(name, node("dd", "", value));
  }
  return list;
}
