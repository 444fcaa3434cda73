/* What is drawn, on the map; one of it may be edited: its corners are dragged, added and removed. */
import type { Geometry, LineString } from "geojson";
import { node } from "../../common/dom";
import type { Spot } from "../ground";
import type { Improvement } from "./form";
import { geometryOf, placesOf, shapeOf } from "./geometry";
import type { Items } from "./history";
import { CASING, FINISHED, POINT_RADIUS_PX } from "./look";
import { silence } from "./silence";
import { SNAP_PX } from "./snapping";

type Drawn = L.Polyline<LineString> | L.Polygon | L.Marker | L.CircleMarker;

export interface ShapeEvents {
  /** A corner was moved, added or removed; `isSameStep` where the corner was added by this very drag. */
  readonly edited: (id: string, geometry: Geometry, isSameStep: boolean) => void;
  /** While a corner is dragged. */
  readonly changing: (id: string, places: readonly Spot[]) => void;
}

export interface Shapes {
  /** Draws all anew; the item with this id can be edited. */
  readonly draw: (items: Items, edited: string | null) => void;
}

export function makeShapes(map: L.Map, events: ShapeEvents): Shapes {
  const group = L.layerGroup().addTo(map);
  return {
    draw: (items, edited) => {
      group.clearLayers();
      for (const item of items) {
        const isEdited = item.properties.id === edited;
        const shape = layerOf(item, isEdited);
        // The casing of a line that is edited would stay where the line was.
        if (shape instanceof L.Polyline && !isEdited) {
          group.addLayer(casingOf(item));
        }
        const name = node("span", "", item.properties.id);
        shape.bindTooltip(name, { permanent: true, direction: "right", className: "drawn-name" });
        group.addLayer(shape);
        if (isEdited) {
          edit(map, shape, item, events);
        }
      }
    },
  };
}

function casingOf(item: Improvement): L.Layer {
  const places = placesOf(item.geometry);
  return item.geometry.type === "Polygon" ? L.polygon(places, CASING) : L.polyline(places, CASING);
}

function layerOf(item: Improvement, isEdited: boolean): Drawn {
  const places = placesOf(item.geometry);
  const own = { ...FINISHED, pmIgnore: false, snapIgnore: false };
  switch (shapeOf(item.geometry)) {
    case "line":
      return L.polyline<LineString>(places, own);
    case "polygon":
      return L.polygon(places, own);
    default:
      return isEdited ? handleOf(places[0]!) : L.circleMarker(places[0]!, { ...own, radius: POINT_RADIUS_PX });
  }
}

/** A point that can be dragged. */
function handleOf(at: Spot): L.Marker {
  const icon = L.divIcon({ className: "marker-icon drawn-point" });
  return L.marker(at, { icon, pane: "drawn_corners", keyboard: false, pmIgnore: false, snapIgnore: true });
}

function placesNow(shape: Drawn): Spot[] {
  return shape instanceof L.Polyline ? ([shape.getLatLngs()].flat(2) as L.LatLng[]) : [shape.getLatLng()];
}

function edit(map: L.Map, shape: Drawn, item: Improvement, events: ShapeEvents): void {
  const { id } = item.properties;
  let isNewCorner = false;
  let isSameStep = false;
  let isDragged = false;
  const done = (same: boolean): void => {
    const kind = shapeOf(item.geometry);
    events.edited(id, geometryOf(kind, placesNow(shape)), same);
    silence(map);
  };
  shape.on("pm:vertexadded", () => {
    done(false);
    // A drag of the place between two corners adds one, and goes on in the same step.
    isNewCorner = true;
    queueMicrotask(() => {
      isNewCorner = false;
    });
  });
  shape.on("pm:markerdragstart", () => {
    isSameStep = isNewCorner;
    isDragged = true;
  });
  shape.on("pm:markerdragend", () => {
    isDragged = false;
    done(isSameStep);
  });
  shape.on("pm:vertexremoved", () => done(false));
  shape.on("pm:dragend", () => done(false));
  shape.on("pm:change", () => {
    if (isDragged) {
      events.changing(id, placesNow(shape));
    }
  });
  shape.pm.enable({
    snappable: true,
    snapDistance: SNAP_PX,
    allowSelfIntersection: true,
    draggable: shape instanceof L.Marker,
    preventMarkerRemoval: shape instanceof L.Marker,
    removeLayerBelowMinVertexCount: false,
  });
  silence(map);
}
