/* What each tool answers: lines and shapes on the map, and the parts of the panel. */
import type { Geometry } from "geojson";
import type { NumberRow } from "../common/dom";
import { button, node, numberList } from "../common/dom";
import { saveFile } from "../common/files";
import { plainNumber } from "../common/units";
import { profilePanel } from "./chart";
import type { Ground, Spot } from "./ground";
import { isKnown } from "./ground";
import type { ToolKey } from "./mode";
import { outlineOf } from "./outline";
import type { MapPage } from "./page";
import { groundAt, metresBetween, profileAlong } from "./profile";
import { areaGeometry, areaInside, isWithin, positionOf } from "./rings";
import type { Answer } from "./tools";
import type { Traced } from "./traced";
import type { Catchment, PathEnd } from "./water";
import { areasOf, catchmentOf, followWater, strongestNear } from "./water";

const NEAR_M = 3;
const ENDINGS: Readonly<Record<PathEnd, string>> = {
  edge: "leaves the ground that was screened",
  leaves: "goes on beyond the ground that this page carries",
  gap: "ends where there is no elevation",
};

interface Asked {
  readonly page: MapPage;
  readonly traced: Traced;
  /** Takes another place in place of the one asked for. */
  readonly instead: (at: Spot) => void;
}

export function makeAnswers(page: MapPage, traced: Traced, instead: (at: Spot) => void): Record<ToolKey, Answer> {
  const asked: Asked = { page, traced, instead };
  return {
    down: (places, isCurrent) => whereWaterGoes(asked, places[0]!, isCurrent),
    up: (places, isCurrent) => whatDrainsHere(asked, places[0]!, isCurrent),
    profile: (places, isCurrent) => profile(asked, places, isCurrent),
    measure: (places, isCurrent) => measure(asked, places, isCurrent),
  };
}

const outside = (): Node[] => [node("p", "lead", "This place is outside the ground that this page carries.")];

function saveButton(name: string, geometry: () => Geometry, properties: () => object = () => ({})): HTMLButtonElement {
  const save = (): void => {
    const feature = { type: "Feature", properties: properties(), geometry: geometry() };
    const file = { type: "FeatureCollection", features: [feature] };
    saveFile(`${name}.geojson`, "application/geo+json", JSON.stringify(file));
  };
  return button("Save as GeoJSON", save, "save");
}

const lineOf = (places: readonly Spot[]): Geometry => ({ type: "LineString", coordinates: places.map(positionOf) });

async function whereWaterGoes(asked: Asked, at: Spot, isCurrent: () => boolean): Promise<Node[]> {
  const { page, traced } = asked;
  const { units } = page;
  const ground = await page.store.ground();
  const cell = ground?.cellAt(at) ?? -1;
  if (!isCurrent()) return [];
  traced.clear();
  if (!ground || !isKnown(ground, cell)) return outside();
  const depthOf = await page.store.water();
  if (!isCurrent()) return [];
  const path = followWater(ground, cell);
  const line = path.cells.map(ground.middleOf);
  traced.line(line, { color: "#ffffff", weight: 9, opacity: 0.9 });
  traced.line(line, { color: "#0b3f86", weight: 5, dashArray: "1 9", lineCap: "round" });
  const rows: NumberRow[] = [
    ["Length of the flow path", units.length(path.length_m)],
    ["Its end", ENDINGS[path.end]],
    ["Lots on its path", lotsAlong(page, line).join(", ") || "none"],
  ];
  const chart = line.length > 1 ? profilePanel(page, profileAlong(ground, depthOf, line), traced.mark) : [];
  page.say(`Water runs ${units.length(path.length_m)} from there, and ${ENDINGS[path.end]}`);
  const properties = (): object => ({ length_m: Number(path.length_m.toFixed(2)), end: path.end });
  return [numberList(rows), ...chart, saveButton("flow_path", () => lineOf(line), properties)];
}

/** Ids of lots in the order in which a line reaches them. */
function lotsAlong(page: MapPage, line: readonly Spot[]): string[] {
  const lots = page.layers.byKey.get("lots")?.features ?? [];
  const names = new Set<string>();
  for (const at of line) {
    for (const lot of lots) {
      if (lot.g && !names.has(lot.id) && isWithin(lot.g, at)) {
        names.add(lot.id);
      }
    }
  }
  return [...names];
}

async function whatDrainsHere(asked: Asked, at: Spot, isCurrent: () => boolean): Promise<Node[]> {
  const { page, traced } = asked;
  const ground = await page.store.ground();
  const cell = ground?.cellAt(at) ?? -1;
  if (!isCurrent()) return [];
  traced.clear();
  if (!ground || !isKnown(ground, cell)) return outside();
  const found = catchmentOf(ground, cell);
  const rings = outlineOf(found.isIn, ground.rows, ground.cols)
    .map((ring) => ring.map(([col, row]) => ground.spotOf(col, row)));
  traced.area(rings);
  traced.mark(ground.middleOf(cell));
  const area = (found.mayBeMore ? "at least " : "") + page.units.format(found.area_m2, "m2");
  page.say(`Ground that drains here: ${area}`);
  const properties = (): object => ({
    area_m2: Number(found.area_m2.toFixed(1)), is_lower_bound: found.mayBeMore,
  });
  const cut = "It is cut by the edge of the elevation, or by gaps in it: more ground may drain here.";
  return [
    numberList(catchmentRows(page, ground, cell, found, area)),
    ...(found.mayBeMore ? [node("p", "hint", cut)] : []),
    ...strongerFlow(asked, ground, cell, found.area_m2),
    saveButton("contributing_area", () => areaGeometry(rings), properties),
  ];
}

function catchmentRows(page: MapPage, ground: Ground, cell: number, found: Catchment, area: string): NumberRow[] {
  const { units } = page;
  return [
    ["Ground that drains here", area],
    ["Cells of it on the map", plainNumber(found.nCells, 0)],
    ...(found.beyond_m2 > 0
      ? [["Of it beyond the ground shown", units.format(found.beyond_m2, "m2")] as const]
      : []),
    ["Ground here", units.format(ground.elev(cell), "m")],
    ["Highest ground in it", units.format(ground.elev(found.highest), "m")],
  ];
}

/** Offers the channel beside a place that was missed by a step or two. */
function strongerFlow(asked: Asked, ground: Ground, cell: number, area_m2: number): Node[] {
  const { units } = asked.page;
  const best = strongestNear(ground, cell, NEAR_M);
  const most = areasOf(ground)[best]!;
  if (most <= 2 * area_m2) {
    return [];
  }
  const words = `Move to the strongest flow within ${units.length(NEAR_M)}: ${units.format(most, "m2")}`;
  return [button(words, () => asked.instead(ground.middleOf(best)))];
}

async function profile(asked: Asked, places: readonly Spot[], isCurrent: () => boolean): Promise<Node[]> {
  const { page, traced } = asked;
  const ground = await page.store.ground();
  if (!ground || !isCurrent()) return [];
  const depthOf = await page.store.water();
  if (!isCurrent()) return [];
  traced.places(places, false);
  if (places.length < 2) return [node("p", "", "Choose the next place.")];
  const points = profileAlong(ground, depthOf, places);
  page.say(`Profile of ${page.units.length(points[points.length - 1]!.run)} shown`);
  return [...profilePanel(page, points, traced.mark), saveButton("profile", () => lineOf(places))];
}

async function measure(asked: Asked, places: readonly Spot[], isCurrent: () => boolean): Promise<Node[]> {
  const { page, traced } = asked;
  const ground = await page.store.ground();
  if (!isCurrent()) return [];
  const isArea = places.length > 2;
  traced.places(places, isArea);
  if (places.length < 2) return [node("p", "", "Choose the next place.")];
  const rows = measuredRows(page, ground, places);
  page.say(`Length ${rows[0]![1]}`);
  return [numberList(rows), saveButton("measured", () => (isArea ? areaGeometry([places]) : lineOf(places)))];
}

function measuredRows(page: MapPage, ground: Ground | null, places: readonly Spot[]): NumberRow[] {
  const { units, map } = page;
  const between = (a: Spot, b: Spot): number => (ground ? metresBetween(ground, a, b) : map.distance(a, b));
  const legs = places.slice(1).map((at, i) => between(places[i]!, at));
  const length = legs.reduce((sum, leg) => sum + leg, 0);
  const [first, last] = [places[0]!, places[places.length - 1]!];
  const rows: NumberRow[] = [["Length", units.length(length)]];
  if (legs.length > 1) {
    rows.push(["Last part", units.length(legs[legs.length - 1]!)]);
  }
  if (ground) {
    const fall = groundAt(ground, first).elev - groundAt(ground, last).elev;
    if (!Number.isNaN(fall)) {
      rows.push(["Fall from first to last", units.format(fall, "m")]);
    }
    if (places.length > 2) {
      rows.push(["Area inside, last joined to first", units.format(areaInside(ground, places), "m2")]);
      rows.push(["Length round it", units.length(length + between(last, first))]);
    }
  }
  return rows;
}
