/* Arrows that point the way water goes, at an even spacing on the screen. */
import type { Position } from "geojson";
import type { Layers } from "./layers";

const FIRST_PX = 45;
const APART_PX = 95;
const MOST = 600;

interface Path {
  readonly length: number;
  readonly at: (distance: number) => L.Point;
}

function walkAlong(points: readonly L.Point[]): Path {
  const run = [0];
  for (let i = 1; i < points.length; i += 1) {
    run.push(run[i - 1]! + points[i]!.distanceTo(points[i - 1]!));
  }
  const length = run[run.length - 1]!;
  const at = (distance: number): L.Point => {
    const wanted = Math.min(Math.max(distance, 0), length);
    const i = Math.max(1, run.findIndex((value) => value >= wanted));
    const share = (wanted - run[i - 1]!) / Math.max(run[i]! - run[i - 1]!, 1e-6);
    return points[i - 1]!.multiplyBy(1 - share).add(points[i]!.multiplyBy(share));
  };
  return { length, at };
}

function arrowAt(map: L.Map, at: L.Point, way: L.Point, size: number): L.Polygon {
  const corner = (along: number, across: number): L.LatLng =>
    map.layerPointToLatLng([at.x + along * way.x - across * way.y, at.y + along * way.y + across * way.x]);
  const corners = [
    corner(size, 0), corner(-size * 0.8, size * 0.75), corner(-size * 0.3, 0), corner(-size * 0.8, -size * 0.75),
  ];
  return L.polygon(corners, {
    pane: "flow_paths", color: "#ffffff", weight: 1, fillColor: "#0b3f86", fillOpacity: 1, interactive: false,
    smoothFactor: 0, noClip: true,
  });
}

/** Makes the group of arrows, and what draws them anew. */
export function makeArrows(layers: Layers): () => void {
  const { map } = layers;
  const group = L.layerGroup();
  layers.groups.set("arrows", group);
  const draw = (): void => {
    group.clearLayers();
    const paths = layers.groups.get("flow_paths");
    if (paths && map.hasLayer(paths)) {
      arrowsInView(layers).forEach((arrow) => group.addLayer(arrow));
    }
  };
  map.on("moveend", draw);
  return draw;
}

function arrowsInView(layers: Layers): L.Polygon[] {
  const { map } = layers;
  const flow = layers.byKey.get("flow_paths");
  const seen = map.getPixelBounds();
  const origin = map.getPixelOrigin();
  const made: L.Polygon[] = [];
  for (const feature of flow?.features ?? []) {
    const size = (4 + 1.6 * flow!.styles[feature.c]!.weight) * (0.3 + 0.7 * layers.thin);
    for (const part of linesOf(feature.g)) {
      const path = walkAlong(part.map(([lng, lat]) => map.latLngToLayerPoint([lat!, lng!])));
      for (let due = FIRST_PX; due <= path.length && made.length < MOST; due += APART_PX) {
        const at = path.at(due);
        if (seen.contains(at.add(origin))) {
          // The way over the arrow's own length, so that a single cell's step does not turn it.
          const way = path.at(due + size).subtract(path.at(due - size));
          made.push(arrowAt(map, at, way.divideBy(Math.max(way.distanceTo([0, 0]), 1e-6)), size));
        }
      }
    }
  }
  return made;
}

function linesOf(geometry: GeoJSON.Geometry | null): Position[][] {
  if (geometry?.type === "LineString") {
    return [geometry.coordinates];
  }
  return geometry?.type === "MultiLineString" ? geometry.coordinates : [];
}
