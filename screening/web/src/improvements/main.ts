/* Draws a site before and after proposed improvements on one map. */
import { all, byId } from "../common/dom";
import { makeStatus } from "../common/status";
import { readPayload } from "../common/unpack";
import type { TrialPayload, When } from "./payload";
import { improvementsGroup, layerGroup, lotFlag, lotLine } from "./shapes";

const PANES = [
  "relief", "roads", "lots", "driveways", "low_spots", "water", "flow_paths", "drains", "barriers", "others",
  "structures", "flags", "improvements",
];
const STATES: readonly When[] = ["before", "after"];
/** Layers of a state that have a switch of their own. */
const SWITCHED = ["water", "flow_paths"];

type State = Map<string, L.Layer>;

function makeMap(): L.Map {
  const map = L.map("trial-map", {
    attributionControl: false, zoomSnap: 0.25, zoomDelta: 0.5, maxZoom: 23, fadeAnimation: false,
  });
  PANES.forEach((name, order) => {
    map.createPane(name).style.zIndex = String(210 + 10 * order);
  });
  return map;
}

function picture(data: TrialPayload, key: keyof TrialPayload["images"], pane: string): L.Layer {
  const { url, bounds } = data.images[key];
  return L.imageOverlay(url, bounds, { pane, alt: "", interactive: false });
}

function stateOf(data: TrialPayload, when: When): State {
  const layers = Object.entries(data[when]).map(([key, layer]) => [key, layerGroup(key, layer, data.words)] as const);
  return new Map<string, L.Layer>([...layers, ["water", picture(data, `water_${when}`, "water")]]);
}

function showTrial(data: TrialPayload): void {
  const map = makeMap();
  const say = makeStatus();
  const relief = picture(data, "relief", "relief");
  const states = { before: stateOf(data, "before"), after: stateOf(data, "after") };
  for (const [key, layer] of Object.entries(data.same)) {
    layerGroup(key, layer, data.words).addTo(map);
  }
  data.lots.forEach((lot) => lotLine(lot).addTo(map));
  const changed = data.lots.filter((lot) => lot.change !== "none");
  const flags = L.layerGroup(changed.map((lot) => lotFlag(lot, data.words)));
  const improvements = improvementsGroup(data.improvements);
  const isOn = (name: string): boolean =>
    document.querySelector<HTMLInputElement>(`[data-show="${name}"]`)?.checked ?? true;
  const show = (): When => {
    const when = document.querySelector<HTMLInputElement>('input[name="when"]:checked')!.value as When;
    for (const state of STATES) {
      states[state].forEach((layer, key) => {
        put(map, layer, state === when && (!SWITCHED.includes(key) || isOn(key)));
      });
    }
    put(map, relief, isOn("relief"));
    put(map, improvements, isOn("improvements"));
    put(map, flags, when === "after");
    byId("trial-map").dataset.when = when;
    return when;
  };
  for (const box of all('input[name="when"], [data-show]')) {
    box.addEventListener("change", () => {
      say(show() === "before" ? "As it is" : "With the proposed improvements");
    });
  }
  frame(map, data);
  show();
}

function put(map: L.Map, layer: L.Layer, on: boolean): void {
  if (on) {
    map.addLayer(layer);
  } else {
    map.removeLayer(layer);
  }
}

function frame(map: L.Map, data: TrialPayload): void {
  const isUs = data.units === "us";
  L.control.scale({ metric: !isUs, imperial: isUs, maxWidth: 130 }).addTo(map);
  const view = L.latLngBounds(data.view);
  data.improvements.forEach((item) => view.extend(L.geoJSON(item.g).getBounds()));
  map.fitBounds(view, { padding: [24, 24], animate: false });
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(byId("trial-map"));
}

byId("show-same").addEventListener("change", (event) => {
  byId("comparison-table").classList.toggle("all", (event.target as HTMLInputElement).checked);
});
showTrial(readPayload<TrialPayload>("trial-data"));
byId("trial-map").dataset.ready = "yes";
