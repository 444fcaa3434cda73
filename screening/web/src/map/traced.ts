/* What the tools draw on the map. */
import type { Spot } from "./ground";

export interface Traced {
  readonly clear: () => void;
  /** Shows one place, in place of the one shown before. */
  readonly mark: (at: Spot) => void;
  readonly line: (line: readonly Spot[], options: L.PolylineOptions) => void;
  readonly area: (rings: readonly (readonly Spot[])[]) => void;
  /** Replaces all by places and the line through them. */
  readonly places: (places: readonly Spot[], isClosed: boolean) => void;
}

export function makeTraced(map: L.Map): Traced {
  const group = L.layerGroup().addTo(map);
  const dot: L.CircleMarkerOptions = {
    pane: "traced_line", color: "#1a1a1a", weight: 2, fillOpacity: 1, interactive: false,
  };
  const pointer = L.circleMarker([0, 0], { ...dot, radius: 7, fillColor: "#ffe14d" });
  const line = (places: readonly Spot[], options: L.PolylineOptions): void => {
    const own = { pane: "traced_line", interactive: false, smoothFactor: 0.5 };
    group.addLayer(L.polyline([...places], { ...own, ...options }));
  };
  return {
    clear: () => group.clearLayers(),
    mark: (at) => {
      pointer.setLatLng(at);
      group.addLayer(pointer);
    },
    line,
    area: (rings) => {
      group.addLayer(
        L.polygon(rings.map((ring) => [...ring]), {
          pane: "traced_area", color: "#40284f", weight: 2.4, dashArray: "8 4", fillColor: "#8a6a9c",
          fillOpacity: 0.35, fillRule: "evenodd", interactive: false, smoothFactor: 0.3,
        }),
      );
    },
    places: (places, isClosed) => {
      group.clearLayers();
      const whole = isClosed ? [...places, places[0]!] : places;
      line(whole, { color: "#ffffff", weight: 7, opacity: 0.9 });
      line(whole, { color: "#1a1a1a", weight: 3 });
      places.forEach((at) => group.addLayer(L.circleMarker(at, { ...dot, radius: 5, fillColor: "#ffffff" })));
    },
  };
}
