/* A place typed as latitude and longitude. */
import { button, node } from "../common/dom";
import type { Say } from "../common/status";

/** Latitude and longitude in degrees, apart by a comma or a space; null where it is no place. */
export function readPlace(text: string): { lat: number; lng: number } | null {
  const parts = text.split(/[,;\s]+/).filter(Boolean).map(Number);
  const [lat, lng] = parts;
  if (parts.length !== 2 || lat === undefined || lng === undefined || Number.isNaN(lat) || Number.isNaN(lng)) {
    return null;
  }
  return Math.abs(lat) > 90 || Math.abs(lng) > 180 ? null : { lat, lng };
}

export function typedPlace(map: L.Map, say: Say, use: (at: L.LatLng) => void): HTMLElement {
  const box = node("div", "typed");
  const label = node("label", "", "Latitude, longitude ");
  const field = node("input");
  const center = map.getCenter();
  const example = `${center.lat.toFixed(5)}, ${center.lng.toFixed(5)}`;
  Object.assign(field, { type: "text", inputMode: "text", autocomplete: "off", placeholder: example });
  label.append(field);
  const take = (): void => {
    const place = readPlace(field.value);
    if (place) {
      use(L.latLng(place));
    } else {
      say(`Give latitude and longitude in degrees, such as ${example}`);
    }
  };
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      take();
    }
  });
  box.append(label, button("Use", take));
  return box;
}
