import { describe, expect, it } from "vitest";
import { FLOW } from "../src/map/ground";
import { outlineOf } from "../src/map/outline";
import { areasOf, catchmentOf, followWater, strongestNear } from "../src/map/water";
import { groundOf, TO } from "./grounds";

/* A valley of 3 rows and 4 columns: both sides drain to the middle row, which runs east and off the edge.
   Cells by number:  0  1  2  3
                     4  5  6  7
                     8  9 10 11   */
const VALLEY = groundOf(
  [
    [103, 102.5, 102, 101.5],
    [102, 101.5, 101, 100.5],
    [103, 102.5, 102, 101.5],
  ],
  [
    [TO.s, TO.se, TO.s, TO.s],
    [TO.e, TO.e, TO.e, TO.end],
    [TO.n, TO.n, TO.n, TO.n],
  ],
);

describe("the way down", () => {
  it("runs through the receivers to the edge, diagonals by their own length", () => {
    const path = followWater(VALLEY, 1);
    expect(path.cells).toEqual([1, 6, 7]);
    // 2 m cells: one diagonal step and one straight one.
    expect(path.length_m).toBeCloseTo(2 * Math.SQRT2 + 2, 10);
    expect(path.end).toBe("edge");
  });

  it("is one cell long where water ends", () => {
    expect(followWater(VALLEY, 7)).toEqual({ cells: [7], length_m: 0, end: "edge" });
  });

  it("follows a pipe as the crow flies", () => {
    const ground = groundOf(
      [[102, 101, 103, 100]],
      [[TO.e, FLOW.led, TO.w, TO.end]],
      { led: [[1, 3]] },
    );
    const path = followWater(ground, 0);
    expect(path.cells).toEqual([0, 1, 3]);
    expect(path.length_m).toBe(2 + 4);
  });

  it("says where it leaves the ground of the page, and where it meets a gap", () => {
    const out = groundOf([[101, 100]], [[TO.e, FLOW.leaves]]);
    expect(followWater(out, 0).end).toBe("leaves");
    const elev = [[101, 101, 101], [101, 100, 101], [101, 101, 101]];
    const flow = [[TO.se, TO.s, TO.sw], [TO.e, TO.end, TO.w], [TO.ne, TO.n, TO.nw]];
    expect(followWater(groundOf(elev, flow), 0).end).toBe("gap");
  });
});

describe("what drains to a cell", () => {
  it("is the whole valley at its end, and a part on the way", () => {
    const whole = catchmentOf(VALLEY, 7);
    expect([whole.nCells, whole.area_m2, whole.mayBeMore]).toEqual([12, 48, false]);
    const part = catchmentOf(VALLEY, 5);
    // 4 and 5 themselves, 0 and 8 through 4, and 9 from below; 1 goes past to 6.
    expect(Array.from(part.isIn)).toEqual([1, 0, 0, 0, 1, 1, 0, 0, 1, 1, 0, 0]);
    expect([part.nCells, part.area_m2]).toEqual([5, 20]);
    expect(VALLEY.elev(part.highest)).toBe(103);
  });

  it("counts ground beyond the page, and says where there may be more", () => {
    const ground = groundOf([[102, 101, 100]], [[TO.e + FLOW.mayBeMore, TO.e, TO.end]], { came: [[1, 75.5]] });
    const found = catchmentOf(ground, 2);
    expect([found.nCells, found.beyond_m2, found.area_m2, found.mayBeMore]).toEqual([3, 75.5, 87.5, true]);
    expect(Array.from(areasOf(ground))).toEqual([4, 83.5, 87.5]);
  });

  it("adds up to the same by cells in order as by catchments one by one", () => {
    const areas = Array.from(areasOf(VALLEY));
    expect(areas).toEqual(Array.from({ length: 12 }, (_, cell) => catchmentOf(VALLEY, cell).area_m2));
  });

  it("is largest at the channel within reach", () => {
    // From cell 1 the cells within one cell are 0, 1, 2 and 5; from cell 2 cell 7 is a diagonal away.
    expect(strongestNear(VALLEY, 1, 2)).toBe(5);
    expect(strongestNear(VALLEY, 3, 2)).toBe(7);
    expect(strongestNear(VALLEY, 0, 6.1)).toBe(6);
  });
});

describe("outlines", () => {
  const outline = (rows: string[]): [number, number][][] =>
    outlineOf(Uint8Array.from(rows.join(""), Number), rows.length, rows[0]!.length);

  it("turn only at corners, with the clock", () => {
    expect(outline(["000", "011"])).toEqual([[[1, 1], [3, 1], [3, 2], [1, 2]]]);
  });

  it("go round a hole against the clock", () => {
    const rings = outline(["1111", "1011", "1111"]);
    expect(rings).toHaveLength(2);
    // [column, row]; rows count downward, so with the clock the sum is positive.
    const area = (ring: [number, number][]): number =>
      ring.reduce((sum, [x, y], i) => {
        const [u, v] = ring[(i + 1) % ring.length]!;
        return sum + (x * v - u * y) / 2;
      }, 0);
    expect(rings.map(area).sort((a, b) => a - b)).toEqual([-1, 12]);
  });

  it("keep cells apart that meet at a corner alone", () => {
    const rings = outline(["10", "01"]);
    expect(rings.map((ring) => ring.length)).toEqual([4, 4]);
  });

  it("are none where nothing is inside", () => {
    expect(outline(["000", "000"])).toEqual([]);
  });
});
