import { describe, expect, it } from "vitest";
import type { ShownUnits } from "../src/common/units";
import { makeUnits, plainNumber, withUnit } from "../src/common/units";

const SHOWN: ShownUnits = {
  metric: {
    m: { factor: 1, symbol: "m", decimals: 2, is_joined: false },
    m2: { factor: 1, symbol: "m²", decimals: 0, is_joined: false },
    pct: { factor: 1, symbol: "%", decimals: 1, is_joined: true },
  },
  us: {
    m: { factor: 1 / 0.3048, symbol: "ft", decimals: 1, is_joined: false },
    m2: { factor: 1 / 0.3048 ** 2, symbol: "sq ft", decimals: 0, is_joined: false },
    pct: { factor: 1, symbol: "%", decimals: 1, is_joined: true },
  },
};

describe("units", () => {
  it("format SI numbers in the reader's units", () => {
    const units = makeUnits(SHOWN, "metric");
    expect(units.format(3.048, "m")).toBe("3.05 m");
    expect(units.format(12_345.6, "m2")).toBe("12,346 m²");
    expect(units.format(2.25, "pct")).toBe("2.3%");
    expect(units.length(70)).toBe("70.0 m");
    units.choose("us");
    expect(units.format(3.048, "m")).toBe("10.0 ft");
    expect(units.format(100, "m2")).toBe("1,076 sq ft");
    expect(units.length(0.3048)).toBe("1.0 ft");
  });

  it("tell text that differs by units, and other text as it is", () => {
    const units = makeUnits(SHOWN, "us");
    expect(units.tell({ metric: "1 m", us: "3.3 ft" })).toBe("3.3 ft");
    expect(units.tell("same")).toBe("same");
  });

  it("tell those who ask of every change", () => {
    const units = makeUnits(SHOWN, "metric");
    const heard: string[] = [];
    units.whenChanged(() => heard.push(units.name()));
    units.choose("us");
    units.choose("metric");
    expect(heard).toEqual(["us", "metric"]);
  });

  it("write a number without a unit as it is", () => {
    expect(withUnit(5, { factor: 2, symbol: "", decimals: 0, is_joined: true })).toBe("10");
    expect(plainNumber(1_234_567, 0)).toBe("1,234,567");
    expect(plainNumber(-0.05, 1)).toBe("-0.1");
  });
});
