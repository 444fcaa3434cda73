/* Switches of layers, and the online base map that is off until the reader asks for it. */
import { all } from "../common/dom";
import type { Say } from "../common/status";
import type { Layers } from "./layers";
import type { PagePayload } from "./payload";

/** Leaflet puts credits in as markup. */
const escaped = (text: string): string => text.replace(/[&<>"']/g, (mark) => `&#${mark.charCodeAt(0)};`);

/** Makes the switches; gives what sets all layers as the boxes stand. */
export function makeSwitches(layers: Layers, data: PagePayload, say: Say, drawArrows: () => void): () => void {
  const credit = L.control.attribution({ prefix: false }).addTo(layers.map);
  credit.addAttribution(escaped(data.tagline));
  if (data.basemap) {
    addBasemap(layers, data.basemap, say, credit);
  }
  const boxes = all<HTMLInputElement>("[data-switch]");
  const apply = (box: HTMLInputElement): void => {
    setLayer(layers, box.dataset.switch ?? "", box.checked, drawArrows);
    // The printed legend shows what the printed map shows.
    box.closest("fieldset")?.classList.toggle("is-off", !box.checked);
  };
  for (const box of boxes) {
    box.addEventListener("change", () => {
      apply(box);
      say((box.parentElement?.textContent ?? "").trim() + (box.checked ? ": shown" : ": hidden"));
    });
  }
  return () => boxes.forEach(apply);
}

function setLayer(layers: Layers, key: string, on: boolean, drawArrows: () => void): void {
  const { map, groups } = layers;
  const group = groups.get(key);
  if (!group) {
    return;
  }
  put(map, group, on);
  // Water of the storm stands where the same blues show how deep it would be when full.
  if (key === "storm_water") {
    map.getContainer().classList.toggle("storm-on", on);
  }
  if (key === "flow_paths") {
    put(map, groups.get("arrows")!, on);
    drawArrows();
  }
}

function put(map: L.Map, layer: L.Layer, on: boolean): void {
  if (on) {
    map.addLayer(layer);
  } else {
    map.removeLayer(layer);
  }
}

function addBasemap(
  layers: Layers, basemap: NonNullable<PagePayload["basemap"]>, say: Say, credit: L.Control.Attribution,
): void {
  const tiles = L.tileLayer(basemap.url, {
    pane: "basemap", maxNativeZoom: 19, maxZoom: 23, referrerPolicy: "no-referrer",
  });
  let failed = false;
  tiles.on("tileerror", () => {
    if (!failed) {
      failed = true;
      say("The online base map did not load. All else on this page works without it.", true);
    }
  });
  tiles.on("add remove", (event) => {
    failed = false;
    layers.map.getPane("relief")!.style.opacity = event.type === "add" ? "0.5" : "";
    credit[event.type === "add" ? "addAttribution" : "removeAttribution"](escaped(basemap.attribution));
  });
  layers.groups.set("basemap", tiles);
}
