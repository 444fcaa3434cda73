/* The table of all lots that a batch's page holds, by column; see `screening/batch/page.py`. */

export interface LotsTable {
  readonly n: number;
  readonly steps_per_m: number;
  readonly labels: Readonly<Record<string, string>>;
  /** Each different text once, and its number in each row. */
  readonly words: Readonly<Record<string, { readonly texts: readonly string[]; readonly codes: readonly number[] }>>;
  readonly numbers: Readonly<Record<string, readonly (number | null)[]>>;
}

export const wordOf = (table: LotsTable, name: string, lot: number): string => {
  const column = table.words[name]!;
  return column.texts[column.codes[lot]!]!;
};

export const numberOf = (table: LotsTable, name: string, lot: number): number | null =>
  table.numbers[name]?.[lot] ?? null;

/** What is found of a lot, or why it was not assessed. */
export const findingOf = (table: LotsTable, lot: number): string =>
  wordOf(table, "main_finding", lot) || wordOf(table, "reason", lot);

/** A value as the table shows it; empty where there is none. */
export function cellText(table: LotsTable, name: string, lot: number): string {
  if (!(name in table.numbers)) {
    return wordOf(table, name, lot);
  }
  const value = numberOf(table, name, lot);
  if (value === null) {
    return "";
  }
  return name === "visit_score" ? value.toFixed(1) : String(value);
}
