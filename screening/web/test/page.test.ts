import { describe, expect, it } from "vitest";
import { PANES, stackOf } from "../src/map/panes";
import { compareKeys } from "../src/map/table";

describe("the stack of layers", () => {
  it("has every name once", () => {
    expect(new Set(PANES).size).toBe(PANES.length);
  });

  it("puts a kind that it does not know over the terrain and under the rest", () => {
    expect(stackOf(["lots", "moats"]).slice(0, 4)).toEqual(["basemap", "relief", "moats", "roads"]);
  });
});

describe("the order of the table of lots", () => {
  it("is by number or by word, and unknown is last both ways", () => {
    const sorted = (keys: string[], isNumber: boolean, isDown: boolean): string[] =>
      keys.slice().sort((a, b) => compareKeys(a, b, isNumber, isDown));
    expect(sorted(["10", "", "9"], true, false)).toEqual(["9", "10", ""]);
    expect(sorted(["10", "", "9"], true, true)).toEqual(["10", "9", ""]);
    expect(sorted(["b", "a", ""], false, true)).toEqual(["b", "a", ""]);
  });
});
