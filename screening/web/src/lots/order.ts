/* Which lots the table shows, and in what order. */
import type { LotsTable } from "./payload";
import { findingOf, numberOf, wordOf } from "./payload";

export interface Filter {
  /** Looked for in ids and findings, in any case. */
  readonly text: string;
  readonly leastScore: number;
  readonly status: string;
}

export interface Sorting {
  readonly by: string;
  readonly isDown: boolean;
}

export const FIRST_SORTING: Sorting = { by: "visit_rank", isDown: false };

export function fits(table: LotsTable, lot: number, { text, leastScore, status }: Filter): boolean {
  const wanted = text.trim().toLowerCase();
  return (
    (!status || wordOf(table, "status", lot) === status) &&
    (!leastScore || (numberOf(table, "visit_score", lot) ?? -1) >= leastScore) &&
    (!wanted ||
      wordOf(table, "lot_id", lot).toLowerCase().includes(wanted) ||
      findingOf(table, lot).toLowerCase().includes(wanted))
  );
}

/** Sorts lots in place; rows come by rank, so that is their order unless another is asked for. */
export function sortLots(table: LotsTable, lots: number[], { by, isDown }: Sorting): number[] {
  if (by === FIRST_SORTING.by && !isDown) {
    return lots;
  }
  const sign = isDown ? -1 : 1;
  const values = table.numbers[by]?.map((value) => value ?? Infinity);
  const compare = values
    ? (a: number, b: number): number => values[a]! - values[b]! || 0
    : (a: number, b: number): number => wordOf(table, by, a).localeCompare(wordOf(table, by, b));
  return lots.sort((a, b) => sign * compare(a, b) || a - b);
}
