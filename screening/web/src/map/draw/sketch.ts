/* One shape while it is drawn: the drawing library puts its corners where the map is clicked, snaps them and shows the
   line to the pointer; corners that are typed or taken back come to it as clicks. */
import type { Spot } from "../ground";
import type { Shape } from "./form";
import { NEXT, POINT_RADIUS_PX, UNFINISHED } from "./look";
import { silence } from "./silence";
import { SNAP_PX } from "./snapping";

const TOOLS = { point: "CircleMarker", line: "Line", polygon: "Polygon" } as const;

export interface SketchEvents {
  /** Corners so far; `at` is where the pointer is, snapped. */
  readonly changed: (corners: readonly L.LatLng[], at: L.LatLng | null) => void;
  readonly finished: (corners: readonly L.LatLng[]) => void;
}

export interface Sketch {
  readonly shape: Shape;
  readonly corners: () => readonly L.LatLng[];
  /** Adds a corner: just there, or snapped to what is near. */
  readonly add: (at: Spot, isExact: boolean) => void;
  /** Takes back the last corner; false where there is none. */
  readonly undo: () => boolean;
  readonly finish: () => void;
  readonly cancel: () => void;
}

export function startSketch(map: L.Map, shape: Shape, events: SketchEvents, first: readonly Spot[] = []): Sketch {
  let corners: L.LatLng[] = [];
  const created = ({ layer }: { layer: L.Layer }): void => {
    layer.remove();
    const found = layer instanceof L.CircleMarker ? [layer.getLatLng()] : corners;
    stopListening();
    // The library has work of its own to end before another shape may begin.
    queueMicrotask(() => events.finished(found));
  };
  const started = ({ workingLayer }: { workingLayer: L.Layer }): void => {
    workingLayer.on("pm:vertexadded", (event) => {
      corners = [...corners, event.latlng as L.LatLng];
      silence(map);
      events.changed(corners, null);
    });
    workingLayer.on("pm:change", (event) => {
      const places = [event.latlngs].flat() as L.LatLng[];
      events.changed(corners, places[places.length - 1] ?? null);
    });
  };
  const stopListening = (): void => {
    map.off("pm:create", created);
    map.off("pm:drawstart", started);
  };
  const start = (again: readonly Spot[]): void => {
    corners = [];
    map.on("pm:drawstart", started);
    map.on("pm:create", created);
    enable(map, shape);
    again.forEach((at) => addCorner(map, at, true));
    events.changed(corners, null);
  };
  const cancel = (): void => {
    stopListening();
    map.pm.disableDraw();
  };
  start(first);
  return {
    shape,
    corners: () => corners,
    add: (at, isExact) => addCorner(map, at, isExact),
    undo: () => {
      const [had, rest] = [corners.length > 0, corners.slice(0, -1)];
      cancel();
      start(rest);
      return had;
    },
    finish: () => {
      map.fire("dblclick", { latlng: corners[corners.length - 1] });
    },
    cancel,
  };
}

function enable(map: L.Map, shape: Shape): void {
  map.pm.enableDraw(TOOLS[shape], {
    tooltips: false,
    cursorMarker: true,
    snappable: true,
    snapDistance: SNAP_PX,
    allowSelfIntersection: true,
    continueDrawing: false,
    finishOn: "dblclick",
    markerEditable: false,
    templineStyle: shape === "point" ? { ...UNFINISHED, radius: POINT_RADIUS_PX } : UNFINISHED,
    hintlineStyle: NEXT,
    pathOptions: UNFINISHED,
  });
  silence(map);
}

/** A click as the library hears it; with the Alt key it snaps to nothing. */
function addCorner(map: L.Map, at: Spot, isExact: boolean): void {
  const latlng = L.latLng(at);
  const originalEvent = { altKey: isExact };
  map.fire("mousemove", { latlng, originalEvent });
  map.fire("click", { latlng, originalEvent });
}
