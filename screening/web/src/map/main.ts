/* Puts the parts of the map page together. */
import { makeStatus } from "../common/status";
import { makeUnits } from "../common/units";
import { readPayload } from "../common/unpack";
import { makeAnswers } from "./answers";
import { makeArrows } from "./arrows";
import type { Chosen } from "./chosen";
import { makeChosen } from "./chosen";
import { drawForm } from "./draw/main";
import type { DrawForm } from "./draw/form";
import { makeFilter } from "./filter";
import { linkUnits, makeFrame, makePrint } from "./frame";
import { drawLayers, reweigh } from "./layers";
import { makeMode, takesPlaces } from "./mode";
import type { MapPage } from "./page";
import { makePanel } from "./panel";
import type { PagePayload } from "./payload";
import { makeStore } from "./store";
import { makeStorms } from "./storms";
import { makeSwitches } from "./switches";
import { makeTable } from "./table";
import type { Tools } from "./tools";
import { makeTools } from "./tools";
import { makeTraced } from "./traced";

const pages = new WeakMap<L.Map, MapPage & { readonly tools: Tools }>();

/** Makes a map page of a new map and the data that the page holds. */
export function showMap(map: L.Map): void {
  // Of the layers that are made from here on, the editor takes hold only of those that ask for it.
  L.PM?.setOptIn(true);
  const data = readPayload<PagePayload>("screening-data");
  const [say, units, mode, panel] = [makeStatus(), makeUnits(data.shown, data.units), makeMode(), makePanel()];
  linkUnits(units);
  let chosen: Chosen | null = null;
  const layers = drawLayers(map, data, {
    areForPlaces: () => takesPlaces(mode),
    choose: (key, index) => chosen?.choose(key, index, false),
  });
  const drawArrows = makeArrows(layers);
  const applySwitches = makeSwitches(layers, data, say, drawArrows);
  const storms = makeStorms(data, layers, units, say);
  const store = makeStore(data, storms, say);
  const page: MapPage = { map, data, say, units, mode, layers, storms, store, panel };
  const traced = makeTraced(map);
  const tools: Tools = makeTools(page, traced, makeAnswers(page, traced, (at) => tools.use(L.latLng(at))));
  chosen = makeChosen(page, tools.leave);
  makeTable(say);
  makeFilter(layers);
  makePrint(page);
  makeFrame(page);
  applySwitches();
  reweigh(layers);
  drawArrows();
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(map.getContainer());
  pages.set(map, { ...page, tools });
  map.getContainer().dataset.ready = "yes";
}

/** Adds the tool that draws improvements to a map page. */
export function drawImprovements(map: L.Map, form: DrawForm): void {
  const page = pages.get(map);
  if (page) {
    drawForm(page, form, page.tools.leave);
  }
}
