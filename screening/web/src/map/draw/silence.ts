/* Handles on the map. */

/** Corners answer to a pointer alone: by keyboard they are moved in the panel, so they take no focus. */
export function silence(map: L.Map): void {
  for (const corner of map.getPane("drawn_corners")?.children ?? []) {
    corner.setAttribute("tabindex", "-1");
    corner.setAttribute("aria-hidden", "true");
    corner.removeAttribute("role");
  }
}
