/* What the page of before and after draws. */
import { node } from "../common/dom";
import { pathOptions } from "../map/layers";
import type { TrialImprovement, TrialLayer, TrialLot, TrialPayload } from "./payload";

const COLOR = "#5b1f6e";
const [MORE, LESS] = ["#8c2b16", "#245c2a"];
const POPUP_PX = 320;

function sayOn(shape: L.Layer, title: string, lines: readonly string[]): void {
  const box = node("div");
  const head = node("strong");
  head.append(node("span", "", title));
  box.append(head);
  for (const line of lines) {
    const row = node("div");
    row.append(node("span", "", line));
    box.append(row);
  }
  shape.bindPopup(box, { maxWidth: POPUP_PX });
}

export function layerGroup(key: string, layer: TrialLayer, words: TrialPayload["words"]): L.LayerGroup {
  const group = L.layerGroup();
  for (const feature of layer.features) {
    const style = pathOptions({ key, styles: layer.styles }, feature);
    const shape = L.geoJSON(feature.g, {
      pane: key,
      style,
      pointToLayer: (_, at) => L.circleMarker(at, { radius: 7, ...style }),
    });
    const lines = words[layer.words_of]?.[feature.id] ?? [];
    sayOn(shape, `${layer.noun} ${feature.id}`.trim(), lines.length ? lines : [feature.c]);
    group.addLayer(shape);
  }
  return group;
}

export function lotLine(lot: TrialLot): L.Layer {
  const style = { pane: "lots", color: "#20262c", weight: 1.6, fill: false };
  return L.geoJSON(lot.g, { pane: "lots", style, interactive: false });
}

/** The mark of a lot that gets more water or less. */
export function lotFlag(lot: TrialLot, words: TrialPayload["words"]): L.Layer {
  const color = lot.change === "more" ? MORE : LESS;
  const style = {
    pane: "flags", color, weight: lot.red ? 4 : 2, dashArray: lot.change === "more" ? undefined : "7 5",
    fill: lot.red, fillColor: color, fillOpacity: 0.1,
  };
  const shape = L.geoJSON(lot.g, { pane: "flags", style, interactive: lot.red } as L.GeoJSONOptions);
  if (lot.red) {
    sayOn(shape, `Lot ${lot.id}`, words["lots"]?.[lot.id] ?? []);
    const text = node("span", "", `${lot.id}: more water`);
    shape.bindTooltip(text, { permanent: true, direction: "center", className: "more-water" });
  }
  return shape;
}

function casing(geometry: GeoJSON.Geometry): L.Layer {
  const style = { pane: "improvements", color: "#ffffff", weight: 9, fill: false, interactive: false };
  return L.geoJSON(geometry, {
    pane: "improvements",
    style,
    interactive: false,
    pointToLayer: (_, at) => L.circleMarker(at, { ...style, radius: 9, weight: 6 }),
  });
}

function improvementShape(item: TrialImprovement): L.GeoJSON {
  const own = { pane: "improvements", color: COLOR };
  const shape = L.geoJSON(item.g, {
    pane: "improvements",
    style: { ...own, weight: 5, fillColor: COLOR, fillOpacity: 0.18 },
    pointToLayer: (_, at) =>
      L.circleMarker(at, { ...own, radius: 8, weight: 3, fillColor: "#ffffff", fillOpacity: 1 }),
  });
  const taken = item.taken ? [`Takes ${item.taken} in this storm`] : [];
  sayOn(shape, `${item.kind} ${item.id}`, [item.words, ...taken].filter(Boolean));
  const name = (item.is_end ? "" : `${item.kind} `) + item.id + (item.taken ? `: ${item.taken}` : "");
  shape.bindTooltip(node("span", "", name), {
    permanent: true,
    direction: item.is_end ? "left" : "right",
    offset: [item.is_end ? -12 : 12, 0],
    className: "improvement-name",
  });
  return shape;
}

/** The improvements, and dashed lines to where their water is led. */
export function improvementsGroup(items: readonly TrialImprovement[]): L.LayerGroup {
  const group = L.layerGroup();
  const places = new Map<string, L.LatLng>();
  for (const item of items) {
    // A group draws its layers in the order in which they were made: the casing first.
    const under = casing(item.g);
    const shape = improvementShape(item);
    group.addLayer(under).addLayer(shape);
    places.set(item.id, shape.getBounds().getCenter());
  }
  for (const item of items) {
    const [from, to] = [places.get(item.id), places.get(item.to)];
    if (from && to) {
      const look = { pane: "improvements", color: COLOR, weight: 2.5, dashArray: "3 6", interactive: false };
      group.addLayer(L.polyline([from, to], look));
    }
  }
  return group;
}
