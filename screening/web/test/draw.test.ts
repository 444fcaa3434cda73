import { describe, expect, it } from "vitest";
import { makeUnits } from "../src/common/units";
import type { DrawForm, FormKind, Improvement } from "../src/map/draw/form";
import { geometryOf, placesOf, shapeOf } from "../src/map/draw/geometry";
import { makeHistory, nextId, withGeometry, without } from "../src/map/draw/history";
import { readNumbers } from "../src/map/draw/numbers";
import { drivewaysText, improvementsText, leadsNowhere } from "../src/map/draw/save";
import { sizeWords } from "../src/map/draw/sizes";
import { signedArea } from "../src/map/rings";
import { readPlace } from "../src/map/typed";
import { groundOf, spot } from "./grounds";

const KIND: FormKind = {
  kind: "berm", label: "Berm", shapes: ["line"], leads: false, needs_outlet: false, takes_water: false,
  needs_level_or_slope: false, is_studied: false, prefix: "W-", has_structure: false, choices: [],
  numbers: [
    { label: "Height", is_needed: true, names: [["height_m", "m"], ["height_cm", "cm"]],
      limits: { height_m: [0.01, 10], height_cm: [1, 1000] } },
    { label: "Slope", is_needed: false, names: [["slope_pct", "%"]], limits: { slope_pct: [0, 100] } },
  ],
};
const FORM: DrawForm = {
  improvements: { name: "a.geojson", command: "a" }, driveways: { name: "b.geojson", command: "b" },
  outlet: "outlet",
  kinds: [
    KIND, { ...KIND, kind: "drain", needs_outlet: true }, { ...KIND, kind: "outlet", takes_water: true },
    { ...KIND, kind: "driveway", is_studied: true, prefix: "D-" },
  ],
};
const item = (id: string, kind: string, to?: string): Improvement => ({
  properties: to ? { id, kind, to } : { id, kind },
  geometry: { type: "Point", coordinates: [1, 2] },
});

describe("what is drawn", () => {
  it("is written with closed rings against the clock, and read back without the corner twice", () => {
    const corners = [{ lng: 10, lat: 5 }, { lng: 10, lat: 6 }, { lng: 12, lat: 6 }];
    const made = geometryOf("polygon", corners);
    const ring = (made as { coordinates: number[][][] }).coordinates[0]!;
    expect(ring).toEqual([[12, 6], [10, 6], [10, 5], [12, 6]]);
    expect(signedArea(ring)).toBeGreaterThan(0);
    expect(placesOf(made)).toHaveLength(3);
    expect(shapeOf(made)).toBe("polygon");
  });

  it("keeps eight decimals and the order of a line", () => {
    const made = geometryOf("line", [{ lng: 1.1234567891, lat: 2 }, { lng: 0, lat: 1 }]);
    expect(made).toEqual({ type: "LineString", coordinates: [[1.12345679, 2], [0, 1]] });
    expect(placesOf(made)[1]).toEqual({ lng: 0, lat: 1 });
    expect(() => geometryOf("line", [{ lng: 0, lat: 0 }])).toThrow("needs 2");
  });
});

describe("history", () => {
  it("takes back one step at a time, down to nothing", () => {
    const history = makeHistory();
    history.commit([item("W-1", "berm")]);
    history.commit([item("W-1", "berm"), item("W-2", "berm")]);
    expect(history.undo()).toBe(true);
    expect(history.items().map((each) => each.properties.id)).toEqual(["W-1"]);
    expect([history.undo(), history.undo(), history.canUndo()]).toEqual([true, false, false]);
    expect(history.items()).toEqual([]);
  });

  it("amends the last step without adding one", () => {
    const history = makeHistory();
    history.commit([item("W-1", "berm")]);
    history.amend(withGeometry(history.items(), "W-1", { type: "Point", coordinates: [7, 8] }));
    expect(history.items()[0]!.geometry).toEqual({ type: "Point", coordinates: [7, 8] });
    history.undo();
    expect(history.items()).toEqual([]);
  });

  it("gives the first free id, and cuts what led to an item that is removed", () => {
    const items = [item("W-1", "drain", "W-2"), item("W-2", "outlet"), item("W-4", "berm")];
    expect(nextId(items, "W-")).toBe("W-3");
    expect(nextId(items, "W-", ["W-3"])).toBe("W-5");
    expect(nextId(items, "D-")).toBe("D-1");
    expect(without(items, "W-2").map((each) => each.properties)).toEqual([
      { id: "W-1", kind: "drain" }, { id: "W-4", kind: "berm" },
    ]);
    expect(items[0]!.properties.to).toBe("W-2");
  });
});

describe("numbers", () => {
  const read = (height: string, slope = "", name = "height_m", kind = KIND) =>
    readNumbers(kind, [{ name, text: height }, { name: "slope_pct", text: slope }]);

  it("are read with a comma or a point, in the unit chosen", () => {
    expect(read("0,5")).toEqual({ values: { height_m: 0.5 } });
    expect(read(" 40 ", "2", "height_cm")).toEqual({ values: { height_cm: 40, slope_pct: 2 } });
  });

  it("that are missing, no numbers or out of their limits are said", () => {
    expect(read("")).toEqual({ wrong: "Height is needed." });
    expect(read("tall")).toEqual({ wrong: "Height is no number." });
    expect(read("45")).toEqual({ wrong: "Height has to be from 0.01 to 10." });
    expect(read("10")).toEqual({ values: { height_m: 10 } });
  });

  it("of a regrade need a level or a slope with its direction", () => {
    const kind = { ...KIND, needs_level_or_slope: true };
    expect(read("1", "", "height_m", kind)).toEqual({ wrong: "Give a level or a slope." });
    expect(read("1", "5", "height_m", kind)).toEqual({ wrong: "Say which way it falls." });
  });
});

describe("files", () => {
  const items = [item("W-1", "drain"), item("D-1", "driveway")];

  it("keep improvements and driveways apart", () => {
    const kinds = (text: string): object[] =>
      (JSON.parse(text) as { features: { properties: object }[] }).features.map((each) => each.properties);
    expect(kinds(improvementsText(FORM, items))).toEqual([{ id: "W-1", kind: "drain" }]);
    expect(kinds(drivewaysText(FORM, items))).toEqual([{ driveway_id: "D-1" }]);
  });

  it("are not written while a drain leads nowhere", () => {
    expect(leadsNowhere(FORM, items)?.properties.id).toBe("W-1");
    expect(leadsNowhere(FORM, [item("W-1", "drain", "off"), items[1]!])).toBeUndefined();
  });
});

describe("sizes", () => {
  const ground = groundOf([[103, 102, 101, 100], [103, 102, 101, 100]], [[4, 4, 4, 4], [4, 4, 4, 4]]);
  const one = { factor: 1, symbol: "m", decimals: 2, is_joined: false };
  const shown = { m: one, m2: { ...one, symbol: "m²", decimals: 0 }, pct: one };
  const units = makeUnits({ metric: shown, us: shown }, "metric");
  const words = (shape: "line" | "polygon" | "point", places: object[], on: typeof ground | null = ground): string =>
    sizeWords(shape, places as { lat: number; lng: number }[], units, on, () => 7);

  it("say how long a line is and how the ground falls along it", () => {
    expect(words("line", [spot(1, 0.5), spot(1, 2.5)])).toBe("4.0 m long, ground falls 2.00 m");
    expect(words("line", [spot(1, 2.5), spot(1, 1.5)])).toBe("2.0 m long, ground rises 1.00 m");
    expect(words("line", [spot(1, 0.5), spot(9, 0.5)])).toBe("16.0 m long");
  });

  it("measure on the map where the page carries no ground", () => {
    expect(words("line", [spot(0, 0), spot(0, 1), spot(0, 2)], null)).toBe("14.0 m long");
    expect(words("polygon", [spot(0, 0), spot(0, 1), spot(1, 1)], null)).toBe("21.0 m round");
  });

  it("say the area of a polygon and the length round it, and nothing of a point", () => {
    expect(words("polygon", [spot(0, 0), spot(0, 3), spot(2, 3), spot(2, 0)])).toBe("24 m², 20.0 m round");
    expect(words("point", [spot(0, 0)])).toBe("");
    expect(words("line", [spot(0, 0)])).toBe("");
  });
});

describe("typed places", () => {
  it("are latitude and longitude, apart by a comma or a space", () => {
    expect(readPlace("32.5, -78.25")).toEqual({ lat: 32.5, lng: -78.25 });
    expect(readPlace(" 1 2 ")).toEqual({ lat: 1, lng: 2 });
    expect(["north", "1", "91, 0", "0, 181", "1, 2, 3", ""].map(readPlace)).toEqual(Array(6).fill(null));
  });
});
