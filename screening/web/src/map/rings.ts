/* Rings of places as GeoJSON (RFC 7946): longitude before latitude, outer rings against the clock. */
import type { Geometry, MultiPolygon, Polygon, Position } from "geojson";
import type { Ground, Spot } from "./ground";

export const positionOf = (at: Spot): Position => [Number(at.lng.toFixed(7)), Number(at.lat.toFixed(7))];

/** Twice the area of a ring, positive when it runs against the clock. */
export function signedArea(ring: readonly Position[]): number {
  return ring.reduce((sum, [x, y], i) => {
    const [nextX, nextY] = ring[(i + 1) % ring.length]!;
    return sum + x! * nextY! - nextX! * y!;
  }, 0);
}

/** Rings of cells: those that run with the clock in degrees are outer, the others are holes in the one around them. */
export function areaGeometry(rings: readonly (readonly Spot[])[]): Polygon | MultiPolygon {
  const closed = rings.map((ring) => ring.map(positionOf)).map((ring) => [...ring, ring[0]!]);
  const only = closed[0];
  if (only && closed.length === 1) {
    return { type: "Polygon", coordinates: [signedArea(only) < 0 ? only.slice().reverse() : only] };
  }
  const parts = closed.filter((ring) => signedArea(ring) < 0).map((ring) => [ring]);
  for (const hole of closed.filter((ring) => signedArea(ring) >= 0)) {
    const around = parts.filter(([ring]) => isInRing(ring!, hole[0]!)).pop() ?? parts[0];
    around?.push(hole);
  }
  return { type: "MultiPolygon", coordinates: parts.map((part) => part.map((ring) => ring.slice().reverse())) };
}

export function isInRing(ring: readonly Position[], [x, y]: Position): boolean {
  let inside = false;
  ring.forEach(([x1, y1], i) => {
    const [x2, y2] = ring[(i + 1) % ring.length]!;
    if (y1! > y! !== y2! > y! && x! < ((x2! - x1!) * (y! - y1!)) / (y2! - y1!) + x1!) {
      inside = !inside;
    }
  });
  return inside;
}

/** True if a place lies in an area; holes are outside. */
export function isWithin(geometry: Geometry, at: Spot): boolean {
  const parts =
    geometry.type === "Polygon"
      ? [geometry.coordinates]
      : geometry.type === "MultiPolygon"
        ? geometry.coordinates
        : [];
  return parts.some((rings) =>
    rings.reduce((inside, ring) => inside !== isInRing(ring, [at.lng, at.lat]), false),
  );
}

/** Area inside places, last joined to first [m2]. */
export function areaInside(ground: Ground, places: readonly Spot[]): number {
  return (Math.abs(signedArea(places.map(ground.placeOf))) / 2) * ground.cell * ground.cell;
}
