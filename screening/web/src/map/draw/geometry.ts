/* Places to GeoJSON and back: longitude before latitude, rings closed and against the clock (RFC 7946). */
import type { Geometry, Position } from "geojson";
import type { Spot } from "../ground";
import { signedArea } from "../rings";
import type { Shape } from "./form";

/** Corners without which a shape is none. */
export const LEAST: Readonly<Record<Shape, number>> = { point: 1, line: 2, polygon: 3 };
const DECIMALS = 8;

const rounded = (at: Spot): Position => [Number(at.lng.toFixed(DECIMALS)), Number(at.lat.toFixed(DECIMALS))];
const spotOf = ([lng, lat]: Position): Spot => ({ lat: lat!, lng: lng! });

export function geometryOf(shape: Shape, places: readonly Spot[]): Geometry {
  if (places.length < LEAST[shape]) {
    throw new Error(`A ${shape} of ${places.length} corners; it needs ${LEAST[shape]}`);
  }
  const way = places.map(rounded);
  if (shape === "point") {
    return { type: "Point", coordinates: way[0]! };
  }
  if (shape === "line") {
    return { type: "LineString", coordinates: way };
  }
  // Degrees are small differences of large numbers: taken from the first corner, their products keep their digits.
  const [x, y] = way[0] as [number, number];
  const turn = signedArea(way.map(([lng, lat]) => [lng! - x, lat! - y]));
  const ring = turn < 0 ? way.reverse() : way;
  return { type: "Polygon", coordinates: [[...ring, ring[0]!]] };
}

export function shapeOf(geometry: Geometry): Shape {
  return geometry.type === "Point" ? "point" : geometry.type === "LineString" ? "line" : "polygon";
}

/** Corners of a shape that `geometryOf` has made; a ring's first corner is not given again. */
export function placesOf(geometry: Geometry): Spot[] {
  switch (geometry.type) {
    case "Point":
      return [spotOf(geometry.coordinates)];
    case "LineString":
      return geometry.coordinates.map(spotOf);
    case "Polygon":
      return geometry.coordinates[0]!.slice(0, -1).map(spotOf);
    default:
      throw new Error(`A ${geometry.type} cannot be drawn`);
  }
}
