/* The table of all lots: only the rows in view are there. */
import { button, byId, node } from "../common/dom";
import type { LotsTable } from "./payload";
import { cellText, findingOf } from "./payload";

const ROW_PX = 28;
const COLUMNS = ["visit_rank", "lot_id", "visit_score", "main_finding"] as const;
const SPARE_ROWS = 5;
const ABOVE_PX = 60;

export interface Rows {
  /** Lots from the top down. */
  readonly show: (order: readonly number[]) => void;
  readonly redraw: () => void;
  /** Brings a lot's row into view. */
  readonly reveal: (lot: number) => void;
}

export interface RowEvents {
  readonly chosen: () => number;
  readonly choose: (lot: number) => void;
  readonly sortBy: (name: string) => void;
}

export function makeRows(table: LotsTable, events: RowEvents): Rows {
  const [list, space] = [byId("rows"), byId("space")];
  let order: readonly number[] = [];
  const redraw = (): void => {
    const first = Math.max(Math.floor(list.scrollTop / ROW_PX) - SPARE_ROWS, 0);
    const last = Math.min(first + Math.ceil(list.clientHeight / ROW_PX) + 2 * SPARE_ROWS, order.length);
    const made = order.slice(first, last).map((lot, i) => rowOf(table, lot, first + i, events));
    space.replaceChildren(...made);
  };
  const reveal = (lot: number): void => {
    list.scrollTop = Math.max(order.indexOf(lot) * ROW_PX - ABOVE_PX, 0);
  };
  for (const name of COLUMNS) {
    byId("head").append(button(table.labels[name]!, () => events.sortBy(name)));
  }
  list.addEventListener("scroll", redraw);
  list.addEventListener("keydown", (event) => {
    const step = event.key === "ArrowDown" ? 1 : event.key === "ArrowUp" ? -1 : 0;
    if (!step || !order.length) {
      return;
    }
    event.preventDefault();
    const place = Math.min(Math.max(order.indexOf(events.chosen()) + step, 0), order.length - 1);
    reveal(order[place]!);
    events.choose(order[place]!);
  });
  return {
    show: (next) => {
      order = next;
      space.style.height = `${order.length * ROW_PX}px`;
      list.scrollTop = 0;
      redraw();
    },
    redraw,
    reveal,
  };
}

function rowOf(table: LotsTable, lot: number, place: number, events: RowEvents): HTMLElement {
  const row = node("div", lot === events.chosen() ? "row chosen" : "row");
  row.style.top = `${place * ROW_PX}px`;
  for (const name of COLUMNS) {
    row.append(node("span", "", name === "main_finding" ? findingOf(table, lot) : cellText(table, name, lot)));
  }
  row.onclick = () => events.choose(lot);
  return row;
}

/** All that is known of a lot; empty for -1. */
export function fillDetail(table: LotsTable, lot: number): void {
  const detail = byId("detail");
  detail.replaceChildren();
  if (lot < 0) {
    return;
  }
  for (const [name, label] of Object.entries(table.labels)) {
    const text = cellText(table, name, lot);
    if (text !== "") {
      detail.append(node("dt", "", label), node("dd", "", text));
    }
  }
}
