/* The map's frame: units, scale, north, first view, paper. */
import { all, byId, isNarrow, node } from "../common/dom";
import type { Units, UnitSystem } from "../common/units";
import type { MapPage } from "./page";

const LABEL =
  "Map of the lots. Arrow keys move it, plus and minus zoom; with a tool on, Enter takes the place in the middle. " +
  "The table of lots says the same in words.";

/** Links the switch of units with the texts that the page holds in both. */
export function linkUnits(units: Units): void {
  units.whenChanged(() => {
    for (const part of all("[data-metric]")) {
      part.textContent = part.dataset[units.name()] ?? "";
    }
  });
  for (const choice of all<HTMLInputElement>("[name=units]")) {
    choice.checked = choice.value === units.name();
    choice.addEventListener("change", () => units.choose(choice.value as UnitSystem));
  }
}

export function makeFrame(page: MapPage): void {
  const { map, data } = page;
  const container = map.getContainer();
  addScale(map, page.units);
  addCompass(map);
  container.setAttribute("role", "application");
  container.setAttribute("aria-label", LABEL);
  map.fitBounds(data.view, { padding: [24, 24], animate: false });
  map.setMaxBounds(L.latLngBounds(data.images[0]!.bounds).extend(data.view).pad(1));
  (byId("layers-box") as HTMLDetailsElement).open = !isNarrow();
}

function addScale(map: L.Map, units: Units): void {
  let scale: L.Control.Scale | null = null;
  const draw = (): void => {
    scale?.remove();
    const isUs = units.name() === "us";
    scale = L.control.scale({ metric: !isUs, imperial: isUs, maxWidth: 130 }).addTo(map);
  };
  draw();
  units.whenChanged(draw);
}

function addCompass(map: L.Map): void {
  const compass = new L.Control({ position: "topright" });
  compass.onAdd = () => {
    const box = node("div", "compass");
    box.append(node("div", "", "\u2191"), node("div", "", "N"));
    box.setAttribute("role", "img");
    box.setAttribute("aria-label", "North is up");
    return box;
  };
  compass.addTo(map);
}

/** Paper: one page with the title, the map as it stands, the first findings, the legend of what is shown. */
export function makePrint(page: MapPage): void {
  const { map } = page;
  let before: L.LatLngBounds | null = null;
  window.addEventListener("beforeprint", () => {
    before = map.getBounds();
    document.body.classList.add("on-paper");
    map.invalidateSize({ pan: false, animate: false });
    const lots = L.latLngBounds(page.data.view);
    map.fitBounds(before.contains(lots) ? lots : before, { animate: false, padding: [16, 16] });
  });
  window.addEventListener("afterprint", () => {
    document.body.classList.remove("on-paper");
    map.invalidateSize({ pan: false, animate: false });
    if (before) {
      map.fitBounds(before, { animate: false });
    }
    before = null;
  });
  byId("print").addEventListener("click", () => window.print());
}
