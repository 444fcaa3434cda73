import { describe, expect, it } from "vitest";
import { areaGeometry, areaInside, isWithin, signedArea } from "../src/map/rings";
import { groundOf, spot } from "./grounds";

const square = (west: number, south: number, side: number) => [
  { lng: west, lat: south + side }, { lng: west + side, lat: south + side },
  { lng: west + side, lat: south }, { lng: west, lat: south },
];

describe("areas as GeoJSON", () => {
  it("run against the clock outside", () => {
    const made = areaGeometry([square(0, 0, 2)]);
    expect(made.type).toBe("Polygon");
    const [ring] = made.coordinates as number[][][];
    expect(signedArea(ring!)).toBe(8);
    expect(ring![0]).toEqual(ring![ring!.length - 1]);
  });

  it("keep holes in the part around them, and the order of a place is longitude, latitude", () => {
    const hole = square(11, 1, 1).reverse();
    const made = areaGeometry([square(0, 0, 3), square(10, 0, 4), hole]);
    expect(made.type).toBe("MultiPolygon");
    expect((made.coordinates as number[][][][]).map((part) => part.length)).toEqual([1, 2]);
    expect(isWithin(made, { lng: 12.5, lat: 3 })).toBe(true);
    expect(isWithin(made, { lng: 11.5, lat: 1.5 })).toBe(false);
    expect(isWithin(made, { lng: 5, lat: 1 })).toBe(false);
    expect(isWithin({ type: "Point", coordinates: [0, 0] }, { lng: 0, lat: 0 })).toBe(false);
  });

  it("are measured on the grid", () => {
    const ground = groundOf([[100, 100]], [[4, 4]]);
    // A triangle of 10 by 6 cells of 2 m: 10 * 6 / 2 * 4 m2.
    expect(areaInside(ground, [spot(0, 0), spot(0, 10), spot(6, 10)])).toBeCloseTo(120, 5);
  });
});
