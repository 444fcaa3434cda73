import { describe, expect, it } from "vitest";
import { classOf } from "../src/lots/classes";
import { makeLattice } from "../src/lots/lattice";
import { fits, sortLots } from "../src/lots/order";
import type { LotsTable } from "../src/lots/payload";
import { cellText, findingOf } from "../src/lots/payload";
import { boxOf, hasShape, holds, unpackShapes } from "../src/lots/shapes";

/* Three lots: a square of 100 steps with a hole of 20, none, and a triangle whose first corner is told as a step from
   the last corner of the hole. */
const PACKED = Int32Array.from([
  2, 4, 0, 0, 100, 0, 0, 100, -100, 0,
  4, 40, -60, 0, 20, 20, 0, 0, -20,
  0,
  1, 3, 140, -40, 50, 0, 0, 30,
]);

describe("packed shapes of lots", () => {
  const shapes = unpackShapes(PACKED, 3);

  it("read back", () => {
    expect(Array.from(shapes.xy.subarray(0, 8))).toEqual([0, 0, 100, 0, 100, 100, 0, 100]);
    expect(Array.from(shapes.xy.subarray(8, 16))).toEqual([40, 40, 40, 60, 60, 60, 60, 40]);
    expect(Array.from(shapes.xy.subarray(16, 22))).toEqual([200, 0, 250, 0, 250, 30]);
    expect(shapes.ringStart).toEqual([0, 8, 16, 22]);
    expect(Array.from(shapes.lotRing)).toEqual([0, 2, 2, 3]);
    expect([0, 1, 2].map((lot) => hasShape(shapes, lot))).toEqual([true, false, true]);
    expect(boxOf(shapes, 2)).toEqual({ west: 200, south: 0, east: 250, north: 30 });
    expect(shapes.bounds).toEqual({ west: 0, south: 0, east: 250, north: 100 });
  });

  it("hold what is in them, and not what is in their holes", () => {
    expect(holds(shapes, 0, 10, 10)).toBe(true);
    expect(holds(shapes, 0, 50, 50)).toBe(false);
    expect(holds(shapes, 2, 240, 5)).toBe(true);
    expect(holds(shapes, 2, 210, 25)).toBe(false);
    expect(holds(shapes, 1, 10, 10)).toBe(false);
  });

  it("are found by windows", () => {
    const lotsIn = makeLattice(shapes);
    expect(lotsIn({ west: -10, south: -10, east: 300, north: 300 })).toEqual([0, 2]);
    expect(lotsIn({ west: 90, south: 90, east: 110, north: 110 })).toEqual([0]);
    expect(lotsIn({ west: 150, south: 50, east: 190, north: 60 })).toEqual([]);
    expect(lotsIn({ west: 900, south: 0, east: 910, north: 10 })).toEqual([]);
  });

  it("of no lot at all leave a place to look at", () => {
    expect(unpackShapes(new Int32Array(0), 0).bounds).toEqual({ west: 0, south: 0, east: 1000, north: 1000 });
  });
});

const TABLE: LotsTable = {
  n: 3, steps_per_m: 10, labels: {},
  words: {
    lot_id: { texts: ["B-2", "A-1", "C-3"], codes: [0, 1, 2] },
    status: { texts: ["assessed", "failed"], codes: [0, 0, 1] },
    main_finding: { texts: ["Water at the wall", ""], codes: [0, 0, 1] },
    reason: { texts: ["", "no elevation"], codes: [0, 0, 1] },
  },
  numbers: { visit_rank: [1, 2, null], visit_score: [12.34, 5, null], n_flags: [2, 0, null] },
};
const ANY = { text: "", leastScore: 0, status: "" };

describe("the table of all lots", () => {
  it("says why a lot has no finding", () => {
    expect([0, 1, 2].map((lot) => findingOf(TABLE, lot))).toEqual([
      "Water at the wall", "Water at the wall", "no elevation",
    ]);
    expect([0, 2].map((lot) => cellText(TABLE, "visit_score", lot))).toEqual(["12.3", ""]);
    expect(cellText(TABLE, "n_flags", 1)).toBe("0");
  });

  it("filters by words, score and status", () => {
    const shown = (change: object): number[] => [0, 1, 2].filter((lot) => fits(TABLE, lot, { ...ANY, ...change }));
    expect(shown({})).toEqual([0, 1, 2]);
    expect(shown({ text: " b-2" })).toEqual([0]);
    expect(shown({ text: "ELEVATION" })).toEqual([2]);
    expect(shown({ leastScore: 6 })).toEqual([0]);
    expect(shown({ status: "failed" })).toEqual([2]);
  });

  it("sorts by words and numbers, and unknown numbers are last while they rise", () => {
    expect(sortLots(TABLE, [0, 1, 2], { by: "lot_id", isDown: false })).toEqual([1, 0, 2]);
    expect(sortLots(TABLE, [0, 1, 2], { by: "visit_score", isDown: false })).toEqual([1, 0, 2]);
    expect(sortLots(TABLE, [0, 1, 2], { by: "visit_rank", isDown: true })).toEqual([2, 1, 0]);
  });

  it("puts scores into classes", () => {
    expect([null, 0, 0.1, 5, 9.99, 10, 20, 99].map(classOf)).toEqual([-1, 0, 1, 2, 2, 3, 4, 4]);
  });
});
