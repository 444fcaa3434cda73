/* Numbers as they are typed: needed or not, a comma or a point, within what can be read. */
import type { FormKind } from "./form";

/** What stands in a box, and the property name that its unit makes. */
export interface Entry {
  readonly name: string;
  readonly text: string;
}

export type Read = { readonly values: Readonly<Record<string, number>> } | { readonly wrong: string };

/** Room for what a limit loses when it is turned into other units. */
const ROUNDING = 1e-9;

const digits = (value: number): string => String(Number(value.toPrecision(3)));

/** Reads the entries of a kind's numbers, in their order. */
export function readNumbers(kind: FormKind, entries: readonly Entry[]): Read {
  const values: Record<string, number> = {};
  for (const [i, number] of kind.numbers.entries()) {
    const { name, text } = entries[i]!;
    const plain = text.trim().replace(",", ".");
    if (plain === "") {
      if (number.is_needed) return { wrong: `${number.label} is needed.` };
      continue;
    }
    const value = Number(plain);
    const [low, high] = number.limits[name]!;
    if (!Number.isFinite(value)) {
      return { wrong: `${number.label} is no number.` };
    }
    if (value < low * (1 - ROUNDING) || value > high * (1 + ROUNDING)) {
      return { wrong: `${number.label} has to be from ${digits(low)} to ${digits(high)}.` };
    }
    values[name] = value;
  }
  const wrong = kind.needs_level_or_slope ? levelOrSlope(values) : "";
  return wrong ? { wrong } : { values };
}

function levelOrSlope(values: Readonly<Record<string, number>>): string {
  const slopes = (values["slope_pct"] ?? 0) > 0;
  if (!slopes && !Object.keys(values).some((name) => name.startsWith("elev_"))) {
    return "Give a level or a slope.";
  }
  return slopes && values["falls_toward_deg"] === undefined ? "Say which way it falls." : "";
}
