import { describe, expect, it } from "vitest";
import { groundAt, metresBetween, profileAlong, ticksOf, wetParts } from "../src/map/profile";
import { groundOf, spot } from "./grounds";

/* A plane that falls 1 m a column: its middle (column + 0.5) lies on a whole number. */
const PLANE = groundOf([[103, 102, 101, 100], [103, 102, 101, 100]], [[4, 4, 4, 4], [4, 4, 4, 4]]);
const GAP = groundOf([[101, NaN, 100], [101, 101, 100]], [[4, 9, 4], [4, 4, 4]]);

describe("the ground at a place", () => {
  it("lies between the middles of four cells", () => {
    expect(groundAt(PLANE, spot(1, 1.5)).elev).toBeCloseTo(102, 8);
    expect(groundAt(PLANE, spot(1, 2)).elev).toBeCloseTo(101.5, 8);
  });

  it("is that of the cell at the rim and beside a gap, and none off the ground", () => {
    expect(groundAt(PLANE, spot(0.2, 0.2)).elev).toBe(103);
    expect(groundAt(GAP, spot(1.2, 0.9)).elev).toBe(101);
    expect(groundAt(PLANE, spot(-1, 1))).toEqual({ elev: NaN, cell: -1 });
  });
});

describe("profiles", () => {
  it("measure along the grid's axes", () => {
    // 3 columns and 4 rows of 2 m: 6 m and 8 m make 10 m.
    expect(metresBetween(PLANE, spot(0, 0), spot(4, 3))).toBeCloseTo(10, 8);
  });

  it("have points at half a cell or closer, each place once", () => {
    const points = profileAlong(PLANE, () => 0, [spot(1, 0.5), spot(1, 1.5), spot(1, 3.5)]);
    expect(points.map((point) => Number(point.run.toFixed(6)))).toEqual([0, 1, 2, 3, 4, 5, 6]);
    expect(points.map((point) => Number(point.elev.toFixed(6)))).toEqual([103, 102.5, 102, 101.5, 101, 100.5, 100]);
  });

  it("carry the water on each cell", () => {
    const points = profileAlong(PLANE, (cell) => (cell % 4 === 2 ? 0.3 : 0), [spot(0.5, 0.5), spot(0.5, 3.4)]);
    expect(wetParts(points)).toHaveLength(1);
    expect(wetParts(points)[0]!.every((point) => point.water === 0.3)).toBe(true);
  });

  it("draw no water of one point alone", () => {
    const point = (water: number) => ({ at: spot(0, 0), run: 0, elev: 1, water });
    expect(wetParts([1, 0, 1, 1, 0, 0, 1].map(point)).map((part) => part.length)).toEqual([2]);
  });
});

describe("ticks", () => {
  it("stand at 1, 2 or 5 times a power of ten", () => {
    expect(ticksOf(0, 60, 5)).toEqual({ ticks: [0, 20, 40, 60], decimals: 0 });
    const small = ticksOf(100.02, 100.3, 4);
    expect(small.ticks.map((tick) => tick.toFixed(small.decimals))).toEqual(["100.1", "100.2", "100.3"]);
  });
});
