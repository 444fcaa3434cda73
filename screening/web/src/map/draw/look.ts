/* How what is drawn looks. */

export const COLOR = "#5b1f6e";
export const FINISHED: L.PathOptions = {
  pane: "drawn", color: COLOR, weight: 4, fillOpacity: 0.15, interactive: false,
};
export const UNFINISHED: L.PathOptions = { pane: "drawn", color: COLOR, weight: 4, interactive: false };
export const NEXT: L.PathOptions = { ...UNFINISHED, weight: 3, dashArray: "6 5" };
export const CASING: L.PathOptions = {
  pane: "drawn", color: "#ffffff", weight: 8, opacity: 0.85, fill: false, interactive: false,
};
export const POINT_RADIUS_PX = 8;
export const RING: L.CircleMarkerOptions = {
  pane: "drawn", color: "#ffe14d", weight: 5, radius: 17, fill: false, interactive: false,
};
