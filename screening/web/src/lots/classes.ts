/* Classes of lots by score, from pale yellow to brown; grey is unknown. */
import { node } from "../common/dom";
import type { LotsTable } from "./payload";
import { numberOf } from "./payload";

const CLASSES = [
  { from: 0, color: "#ffffd9", words: "no points" },
  { from: 1e-9, color: "#fee391", words: "score up to 5" },
  { from: 5, color: "#fe9929", words: "score 5 to 10" },
  { from: 10, color: "#cc4c02", words: "score 10 to 20" },
  { from: 20, color: "#662506", words: "score 20 and more" },
] as const;
const UNKNOWN = { color: "#9aa0a6", words: "not assessed" } as const;

/** Class of a score; -1 = unknown. */
export function classOf(score: number | null): number {
  return score === null ? -1 : CLASSES.filter((each, k) => k === 0 || score >= each.from).length - 1;
}

export const colorOf = (lotClass: number): string => (CLASSES[lotClass] ?? UNKNOWN).color;
export const N_CLASSES = CLASSES.length;

/** A lot without a rank was not assessed. */
export function classesOf(table: LotsTable): Int8Array {
  const scoreOf = (lot: number): number | null =>
    numberOf(table, "visit_rank", lot) === null ? null : (numberOf(table, "visit_score", lot) ?? 0);
  return Int8Array.from({ length: table.n }, (_, lot) => classOf(scoreOf(lot)));
}

export function fillLegend(legend: HTMLElement): void {
  for (const { color, words } of [...CLASSES, UNKNOWN]) {
    const [item, swatch] = [node("li"), node("span")];
    swatch.style.background = color;
    item.append(swatch, words);
    legend.append(item);
  }
}
