/* What is chosen: outlined on the map, marked in the table, told in the panel. */
import { all, byId, isCalm, isNarrow } from "../common/dom";
import { detailsOf } from "./details";
import { featureOf, nameOf, shapeOf } from "./layers";
import type { MapPage } from "./page";
import type { Place } from "./payload";

const HALO = [
  { color: "#1a1a1a", weight: 8 },
  { color: "#ffe14d", weight: 3.5 },
];
const POINT_RADIUS_PX = 13;
const MAX_ZOOM = 20.5;

export interface Chosen {
  readonly choose: (key: string, index: number, moves: boolean) => void;
}

export function makeChosen(page: MapPage, leaveTool: () => void): Chosen {
  const { units, storms, panel, say } = page;
  const halo = L.layerGroup().addTo(page.map);
  let place: Place | null = null;
  let opener: HTMLElement | null = null;

  const choose = (key: string, index: number, moves: boolean): void => {
    const found = featureOf(page.layers, key, index);
    if (!found) {
      return;
    }
    leaveTool();
    place = [key, index];
    fill();
    showOutline(page, halo, key, index);
    const lot = lotOf(page, key, index);
    showContributing(page, lot);
    markRow(lot);
    if (moves) {
      goTo(page, key, index);
      byId("detail-title").focus({ preventScroll: !isNarrow() });
    }
    say(`${nameOf(...found)}: details shown`);
  };
  const fill = (): void => {
    const found = place && featureOf(page.layers, ...place);
    if (found && place) {
      panel.show(nameOf(...found), detailsOf(page, found[0], place[1], (key, index) => choose(key, index, true)));
    }
  };
  units.whenChanged(fill);
  storms.whenChanged(fill);
  panel.whenClosed(() => {
    place = null;
    halo.clearLayers();
    showContributing(page, -1);
    markRow(-1);
  });
  closeByHand(page, leaveTool, () => opener);
  for (const link of all(".go")) {
    link.addEventListener("click", () => {
      opener = link;
      choose(link.dataset.layer ?? "", Number(link.dataset.index), true);
    });
  }
  return { choose };
}

function closeByHand(page: MapPage, leaveTool: () => void, opener: () => HTMLElement | null): void {
  const close = (): void => {
    leaveTool();
    page.panel.close();
    opener()?.focus();
  };
  byId("detail-close").addEventListener("click", close);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && page.panel.isOpen()) {
      close();
    }
  });
}

function showOutline(page: MapPage, halo: L.LayerGroup, key: string, index: number): void {
  halo.clearLayers();
  const geometry = featureOf(page.layers, key, index)?.[1].g;
  if (!geometry) {
    return;
  }
  for (const { color, weight } of HALO) {
    const options = { pane: "chosen", color, fill: false, interactive: false };
    halo.addLayer(
      L.geoJSON(geometry, {
        pane: "chosen",
        interactive: false,
        style: { color, weight, fill: false, opacity: 1 },
        pointToLayer: (_, at) => L.circleMarker(at, { ...options, radius: POINT_RADIUS_PX, weight: weight / 2 }),
      }),
    );
  }
}

/** The lot of a feature, -1 where it has none. */
function lotOf(page: MapPage, key: string, index: number): number {
  if (key === "lots") {
    return index;
  }
  const link = featureOf(page.layers, key, index)?.[1].to.find((to) => to[0] === "lots");
  return link ? link[1] : -1;
}

function showContributing(page: MapPage, lot: number): void {
  const group = page.layers.groups.get("contributing_areas") as L.LayerGroup | undefined;
  group?.clearLayers();
  for (const [key, index] of featureOf(page.layers, "lots", lot)?.[1].to ?? []) {
    const shape = key === "contributing_areas" ? shapeOf(page.layers, key, index) : undefined;
    if (shape) {
      group?.addLayer(shape);
    }
  }
}

function markRow(lot: number): void {
  all("tr.chosen").forEach((row) => row.classList.remove("chosen"));
  const own = `#lots-table [data-layer="lots"][data-index="${lot}"]`;
  document.querySelector(own)?.closest("tr")?.classList.add("chosen");
}

function goTo(page: MapPage, key: string, index: number): void {
  const { map } = page;
  map.getContainer().scrollIntoView({ block: isNarrow() ? "start" : "nearest", behavior: "instant" });
  const shape = shapeOf(page.layers, key, index);
  if (!shape) {
    page.say("This has no place on the map.");
    return;
  }
  // On a phone the panel lies over the lower half of the window.
  const below = isNarrow() ? Math.max(20, map.getSize().y - window.innerHeight * 0.5) : 40;
  map.fitBounds(shape.getBounds(), {
    maxZoom: MAX_ZOOM, paddingTopLeft: [60, 40], paddingBottomRight: [40, below], animate: !isCalm(),
  });
}
