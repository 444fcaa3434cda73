/* Draws the layers of the page's data. */
import { node } from "../common/dom";
import { makePanes } from "./panes";
import type { FeaturePayload, LayerPayload, PagePayload } from "./payload";

/** A shape whose lines grow with the map, and their weight on a map that is near. */
type Weighted = readonly [shape: L.GeoJSON, weight: number];

export interface Layers {
  readonly map: L.Map;
  readonly byKey: ReadonlyMap<string, LayerPayload>;
  readonly groups: Map<string, L.LayerGroup | L.TileLayer>;
  readonly pictures: ReadonlyMap<string, L.ImageOverlay>;
  /** By layer: the shape of each feature that answers to clicks. */
  readonly shapes: ReadonlyMap<string, (L.GeoJSON | undefined)[]>;
  readonly weighted: Weighted[];
  /** What the weight of lines is multiplied by. */
  thin: number;
}

export interface LayerClicks {
  /** True while clicks are for a tool or a drawing. */
  readonly areForPlaces: () => boolean;
  readonly choose: (key: string, index: number) => void;
}

export const nameOf = (layer: LayerPayload, feature: FeaturePayload): string =>
  feature.id ? `${layer.noun} ${feature.id}` : layer.noun;

export const shapeOf = (layers: Layers, key: string, index: number): L.GeoJSON | undefined =>
  layers.shapes.get(key)?.[index];

export function featureOf(layers: Layers, key: string, index: number): [LayerPayload, FeaturePayload] | null {
  const layer = layers.byKey.get(key);
  const feature = layer?.features[index];
  return layer && feature ? [layer, feature] : null;
}

export function drawLayers(map: L.Map, data: PagePayload, clicks: LayerClicks): Layers {
  const byKey = new Map(data.layers.map((layer) => [layer.key, layer]));
  makePanes(map, [...byKey.keys()]);
  const groups = new Map<string, L.LayerGroup | L.TileLayer>();
  const pictures = new Map<string, L.ImageOverlay>();
  for (const { key, url, bounds } of data.images) {
    const picture = L.imageOverlay(url, bounds, { pane: key, alt: "", interactive: false });
    pictures.set(key, picture);
    groups.set(key, L.layerGroup([picture]));
  }
  const shapes = new Map<string, (L.GeoJSON | undefined)[]>();
  const layers: Layers = { map, byKey, groups, pictures, shapes, weighted: [], thin: 1 };
  for (const layer of data.layers) {
    const group = (groups.get(layer.key) ?? L.layerGroup()) as L.LayerGroup;
    groups.set(layer.key, group);
    const drawn = layer.features.map((feature, index) => drawFeature(layers, layer, feature, index, clicks));
    shapes.set(layer.key, drawn.map((parts) => parts[parts.length - 1]));
    // Contributing areas show with their lot alone.
    if (layer.key !== "contributing_areas") {
      drawn.flat().forEach((part) => group.addLayer(part));
    }
  }
  nameFeatures(layers, data);
  map.on("zoomend", () => reweigh(layers));
  return layers;
}

/** A clear fill, unlike none, still answers to a click. */
export function pathOptions(layer: Pick<LayerPayload, "key" | "styles">, feature: { c: string }): L.PathOptions {
  const style = layer.styles[feature.c]!;
  const isLine = style.shape === "line";
  return {
    pane: layer.key,
    color: style.color,
    weight: style.weight,
    dashArray: style.dash ?? undefined,
    fill: !isLine,
    fillColor: style.pattern ? `url(#${style.pattern})` : style.fill ?? "#ffffff",
    fillOpacity: style.pattern ? 1 : style.fill_opacity ?? 0,
    noClip: isLine,
    smoothFactor: 0.5,
  } as L.PathOptions;
}

function drawFeature(
  layers: Layers, layer: LayerPayload, feature: FeaturePayload, index: number, clicks: LayerClicks,
): L.GeoJSON[] {
  if (!feature.g) {
    return [];
  }
  const geometry = feature.g;
  const style = pathOptions(layer, feature);
  const weight = style.weight ?? 1;
  const isLine = layer.styles[feature.c]!.shape === "line";
  const made: L.GeoJSON[] = [];
  const add = (changes: L.PathOptions, grows: boolean): void => {
    const options = { ...style, ...changes };
    const shape = L.geoJSON(geometry, {
      pane: options.pane,
      style: options,
      interactive: options.interactive !== false,
      pointToLayer: (_, at) => L.circleMarker(at, { radius: 9, ...options }),
    });
    if (grows) {
      layers.weighted.push([shape, options.weight ?? 1]);
    }
    made.push(shape);
  };
  if (layer.key === "lots" || isLine) {
    const under = layer.key === "flow_paths" ? "flow_casing" : layer.key;
    const casing = { color: "#ffffff", weight: weight + 2.2, opacity: 0.75, fill: false, interactive: false };
    add({ ...casing, pane: under, dashArray: undefined }, true);
  }
  if (isLine) {
    add({ interactive: false }, true);
    add({ weight: 18, opacity: 0, dashArray: undefined }, false);
  } else {
    add({}, true);
  }
  answerClicks(made[made.length - 1]!, nameOf(layer, feature), clicks, () => clicks.choose(layer.key, index));
  return made;
}

function answerClicks(target: L.GeoJSON, name: string, clicks: LayerClicks, choose: () => void): void {
  target.on("click", (event) => {
    if (!clicks.areForPlaces()) {
      L.DomEvent.stop(event);
      choose();
    }
  });
  target.bindTooltip(node("span", "", name), { sticky: true, className: "plain-tip" });
}

function nameFeatures(layers: Layers, data: PagePayload): void {
  for (const layer of data.layers) {
    const className = { lots: "lot-name", soils: "lot-name soil-name" }[layer.key];
    if (!className || (layer.key === "lots" && layer.features.length < 2)) {
      continue;
    }
    layer.features.forEach((feature, index) => addName(layers, layer.key, index, className, feature.id));
  }
  // From afar the numbers of the list stand on their lots, in place of names.
  if (data.ranks.length > 1) {
    data.ranks.forEach(([index, rank]) => addName(layers, "lots", index, "rank-mark", String(rank)));
  }
}

function addName(layers: Layers, key: string, index: number, className: string, text: string): void {
  const shape = shapeOf(layers, key, index);
  if (!shape) {
    return;
  }
  const box = shape.getBounds();
  const at = L.latLng(box.getNorth() - 0.12 * (box.getNorth() - box.getSouth()), box.getCenter().lng);
  const tip = L.tooltip({ permanent: true, direction: "center", className, pane: "tooltipPane", interactive: false });
  (layers.groups.get(key) as L.LayerGroup).addLayer(tip.setLatLng(at).setContent(node("span", "", text)));
}

/** Lines grow with the map, so that neither a whole street nor one wall drowns in them. */
export function reweigh(layers: Layers): void {
  const zoom = layers.map.getZoom();
  const now = Math.min(1, Math.max(0.4, 2 ** ((zoom - 19) / 2)));
  layers.map.getContainer().classList.toggle("far", zoom < 18.5);
  if (now === layers.thin) {
    return;
  }
  layers.thin = now;
  for (const [shape, weight] of layers.weighted) {
    shape.setStyle({ weight: weight * now });
    shape.eachLayer((part) => {
      if (part instanceof L.CircleMarker) {
        part.setRadius(3 + 6 * now);
      }
    });
  }
}
