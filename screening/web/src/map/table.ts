/* The table of lots sorts by any of its headings; what is unknown stays last. */
import { all } from "../common/dom";
import type { Say } from "../common/status";

/** Orders two keys of cells; an empty key is unknown. */
export function compareKeys(a: string, b: string, isNumber: boolean, isDown: boolean): number {
  if (a === "" || b === "") {
    return Number(a === "") - Number(b === "");
  }
  const order = isNumber ? Number(a) - Number(b) : a.localeCompare(b);
  return isDown ? -order : order;
}

export function makeTable(say: Say): void {
  for (const heading of all(".sort")) {
    heading.addEventListener("click", () => sortBy(heading, say));
  }
}

function sortBy(heading: HTMLElement, say: Say): void {
  const head = heading.closest("th")!;
  const column = Number(heading.dataset.column);
  const isNumber = head.classList.contains("num");
  const isDown = head.getAttribute("aria-sort") === "ascending";
  const rows = all<HTMLTableRowElement>("#lots-table tbody tr");
  const keyOf = (row: HTMLTableRowElement): string => row.cells[column]?.dataset.key ?? "";
  rows.sort((a, b) => compareKeys(keyOf(a), keyOf(b), isNumber, isDown));
  document.querySelector("#lots-table tbody")?.append(...rows);
  all("#lots-table thead th").forEach((th) => th.setAttribute("aria-sort", "none"));
  head.setAttribute("aria-sort", isDown ? "descending" : "ascending");
  const name = (heading.textContent ?? "").trim();
  say(`Sorted by ${name}${isDown ? ", largest first" : ", smallest first"}`);
}
