/* Filters the table of lots, and links it with the map both ways: any place of a row chooses its lot, a lot that is
   chosen brings its row into view, and lots that are filtered away fade on the map. */
import { button, byId, node } from "../common/dom";
import type { Layers } from "./layers";
import { shapeOf } from "./layers";

/** Columns of the table that it filters by, as the toolkit names them. */
const EXPOSURE = "exposure";
const FLAGS = "n_flags";
const FADED_OPACITY = 0.75;

interface Controls {
  readonly words: HTMLInputElement;
  readonly exposure: HTMLSelectElement;
  readonly flagged: HTMLInputElement;
  readonly count: HTMLOutputElement;
}

interface Rows {
  readonly layers: Layers;
  readonly rows: readonly HTMLTableRowElement[];
  /** Number of the column of a field, -1 where the table has none. */
  readonly columnOf: (field: string) => number;
}

export function makeFilter(layers: Layers): void {
  const table = byId("lots-table") as HTMLTableElement;
  const body = table.tBodies[0]!;
  const fields = Array.from(table.querySelectorAll<HTMLElement>("thead .sort"), (head) => head.dataset.field);
  const rows: Rows = { layers, rows: Array.from(body.rows), columnOf: (field) => fields.indexOf(field) };
  const controls = makeControls(rows);
  const apply = (): void => filter(rows, controls);
  const clear = button("Show all", () => {
    Object.assign(controls.words, { value: "" });
    Object.assign(controls.exposure, { value: "" });
    controls.flagged.checked = false;
    apply();
  });
  table.parentElement?.before(boxOf(controls, clear));
  controls.words.addEventListener("input", apply);
  controls.exposure.addEventListener("change", apply);
  controls.flagged.addEventListener("change", apply);
  linkRows(body, rows, controls);
}

const cellOf = (rows: Rows, row: HTMLTableRowElement, field: string): HTMLElement | undefined =>
  row.cells[rows.columnOf(field)];

function makeControls(rows: Rows): Controls {
  const words = node("input");
  words.type = "search";
  const exposure = node("select");
  exposure.append(new Option("any", ""));
  const known = new Map<string, string>();
  for (const row of rows.rows) {
    const cell = cellOf(rows, row, EXPOSURE);
    known.set(cell?.dataset.key ?? "", (cell?.textContent ?? "").trim());
  }
  for (const [key, text] of [...known].filter(([key]) => key).sort()) {
    exposure.append(new Option(text, key));
  }
  const flagged = node("input");
  flagged.type = "checkbox";
  const count = node("output");
  count.id = "table-count";
  count.setAttribute("aria-live", "polite");
  return { words, exposure, flagged, count };
}

function boxOf({ words, exposure, flagged, count }: Controls, clear: HTMLElement): HTMLElement {
  const labelled = (control: HTMLElement, id: string, text: string, isBefore: boolean): HTMLLabelElement => {
    const label = node("label");
    control.id = id;
    control.setAttribute("aria-label", text);
    label.append(...(isBefore ? [text, control] : [control, text]));
    return label;
  };
  const box = node("div", "table-filter");
  box.setAttribute("role", "search");
  box.setAttribute("aria-label", "Filter of the table");
  box.append(
    labelled(words, "table-words", "Filter by words", true),
    labelled(exposure, "table-exposure", "Exposure", true),
    labelled(flagged, "table-flagged", "flagged lots only", false),
    clear,
    count,
  );
  return box;
}

function fits(rows: Rows, row: HTMLTableRowElement, controls: Controls): boolean {
  const wanted = controls.words.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
  const text = (row.textContent ?? "").toLocaleLowerCase();
  const exposure = cellOf(rows, row, EXPOSURE)?.dataset.key ?? "";
  return (
    wanted.every((word) => text.includes(word)) &&
    (!controls.exposure.value || exposure === controls.exposure.value) &&
    (!controls.flagged.checked || Number(cellOf(rows, row, FLAGS)?.dataset.key) > 0)
  );
}

function filter(rows: Rows, controls: Controls): void {
  for (const row of rows.rows) {
    const hidden = !fits(rows, row, controls);
    if (hidden !== row.hidden) {
      setHidden(rows, row, hidden);
    }
  }
  tell(rows, controls);
}

function setHidden(rows: Rows, row: HTMLTableRowElement, hidden: boolean): void {
  row.hidden = hidden;
  const index = Number(row.querySelector<HTMLElement>(".go")?.dataset.index);
  const fill = { fillColor: "#ffffff", fillOpacity: hidden ? FADED_OPACITY : 0 };
  shapeOf(rows.layers, "lots", index)?.setStyle(fill);
}

function tell(rows: Rows, { count }: Controls): void {
  const n = rows.rows.filter((row) => !row.hidden).length;
  count.textContent = n === rows.rows.length ? "" : `${n} of ${rows.rows.length} lots`;
}

function linkRows(body: HTMLTableSectionElement, rows: Rows, controls: Controls): void {
  body.addEventListener("click", (event) => {
    const target = event.target as Element;
    const row = target.closest("tr");
    if (row && !target.closest("button") && !String(window.getSelection())) {
      row.querySelector<HTMLElement>(".go")?.click();
    }
  });
  // The panel marks the row of a chosen lot; only the table scrolls to it, never the page.
  const reveal = (row: HTMLTableRowElement): void => {
    if (row.hidden) {
      setHidden(rows, row, false);
      tell(rows, controls);
    }
    const scroll = body.closest<HTMLElement>(".scroll")!;
    const [seen, at] = [scroll.getBoundingClientRect(), row.getBoundingClientRect()];
    if (at.top < seen.top || at.bottom > seen.bottom) {
      scroll.scrollTop += at.top - seen.top - seen.height / 3;
    }
  };
  const watch = new MutationObserver((changes) => {
    for (const { target } of changes) {
      if (target instanceof HTMLTableRowElement && target.classList.contains("chosen")) {
        reveal(target);
      }
    }
  });
  watch.observe(body, { attributes: true, attributeFilter: ["class"], subtree: true });
}
