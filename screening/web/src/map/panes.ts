/* Panes, one for each kind of thing, so that nothing is covered by chance. */

/** From the lowest up. */
export const PANES = [
  "basemap", "relief", "roads", "soils", "wetlands", "trees", "lots", "contributing_areas", "traced_area",
  "infiltration_zones", "driveways", "storm_water", "low_spots", "flow_casing", "flow_paths", "overflow_paths",
  "collection_routes", "drains", "barriers", "others", "structures", "structure_sides", "driveway_edges",
  "driveway_arrows", "driveway_low_points", "interception_lines", "drain_outlets", "utilities", "septic", "wells",
  "collection_points", "inflow_points", "doors", "chosen", "traced_line", "drawn",
] as const;
const GROUND_PANES = 2;
const NOT_HIT = ["chosen", "traced_line", "traced_area", "drawn"];
const LOWEST = 210;
const APART = 10;

/** A kind that the list does not know lies over the terrain and under the lots' findings, and never nowhere. */
export function stackOf(keys: readonly string[]): string[] {
  const known: readonly string[] = PANES;
  const unknown = keys.filter((key) => !known.includes(key));
  return [...known.slice(0, GROUND_PANES), ...unknown, ...known.slice(GROUND_PANES)];
}

export function makePanes(map: L.Map, keys: readonly string[]): void {
  stackOf(keys).forEach((name, order) => {
    const pane = map.createPane(name);
    pane.style.zIndex = String(LOWEST + APART * order);
    pane.classList.toggle("no-hit", NOT_HIT.includes(name));
  });
  // Corners of what is drawn lie over all and can be taken hold of.
  map.createPane("drawn_corners").style.zIndex = "645";
}
