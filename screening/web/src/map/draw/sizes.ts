/* How long, how large, and how far it falls: said while a shape is drawn and beside it in the list. */
import type { Units } from "../../common/units";
import type { Ground, Spot } from "../ground";
import { groundAt, metresBetween } from "../profile";
import { areaInside } from "../rings";
import type { Shape } from "./form";

/** Metres between two places where the page carries no ground. */
export type Distance = (a: Spot, b: Spot) => number;

export function lengthOf(places: readonly Spot[], between: Distance): number {
  return places.slice(1).reduce((sum, at, i) => sum + between(places[i]!, at), 0);
}

/** Size of a shape in words; empty for what has none yet. */
export function sizeWords(
  shape: Shape, places: readonly Spot[], units: Units, ground: Ground | null, between: Distance,
): string {
  if (shape === "point" || places.length < 2) {
    return "";
  }
  const metres: Distance = ground ? (a, b) => metresBetween(ground, a, b) : between;
  if (shape === "polygon" && places.length > 2) {
    const round = lengthOf([...places, places[0]!], metres);
    const area = ground ? `${units.format(areaInside(ground, places), "m2")}, ` : "";
    return `${area}${units.length(round)} round`;
  }
  const length = units.length(lengthOf(places, metres));
  const fall = ground ? groundAt(ground, places[0]!).elev - groundAt(ground, places[places.length - 1]!).elev : NaN;
  if (Number.isNaN(fall)) {
    return `${length} long`;
  }
  const way = fall < 0 ? "rises" : "falls";
  return `${length} long, ground ${way} ${units.format(Math.abs(fall), "m")}`;
}
