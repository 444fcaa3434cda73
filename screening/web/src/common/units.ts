/* The one place where a number gets its unit: SI in, text in the reader's units out. */

export type UnitSystem = "metric" | "us";

/** SI units in which the page's own tools answer. */
export type ShownUnit = "m" | "m2" | "pct";

export interface Shown {
  readonly factor: number;
  readonly symbol: string;
  readonly decimals: number;
  /** The symbol follows the number without a space, as % does. */
  readonly is_joined: boolean;
}

/** Text that differs by units comes as both; all other text as it is. */
export type Told = string | Readonly<Record<UnitSystem, string>>;

export type ShownUnits = Readonly<Record<UnitSystem, Readonly<Record<ShownUnit, Shown>>>>;

export interface Units {
  readonly name: () => UnitSystem;
  readonly choose: (name: UnitSystem) => void;
  readonly whenChanged: (change: () => void) => void;
  /** The text in the reader's units. */
  readonly tell: (text: Told) => string;
  readonly format: (value: number, unit: ShownUnit) => string;
  /** A length to one decimal. */
  readonly length: (metres: number) => string;
  readonly shown: (unit: ShownUnit) => Shown;
}

/** A number with its digits grouped and its decimals fixed. */
export function plainNumber(value: number, decimals: number): string {
  return value.toLocaleString("en-US", { minimumFractionDigits: decimals, maximumFractionDigits: decimals });
}

export function withUnit(value: number, how: Shown, decimals = how.decimals): string {
  const text = plainNumber(value * how.factor, decimals);
  return how.symbol && !how.is_joined ? `${text} ${how.symbol}` : text + how.symbol;
}

export function makeUnits(shown: ShownUnits, first: UnitSystem): Units {
  let name = first;
  const changes: (() => void)[] = [];
  const how = (unit: ShownUnit): Shown => shown[name][unit];
  return {
    name: () => name,
    choose: (next) => {
      name = next;
      changes.forEach((change) => change());
    },
    whenChanged: (change) => changes.push(change),
    tell: (text) => (typeof text === "string" ? text : text[name]),
    format: (value, unit) => withUnit(value, how(unit)),
    length: (metres) => withUnit(metres, how("m"), 1),
    shown: how,
  };
}
