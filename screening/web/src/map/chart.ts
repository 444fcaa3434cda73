/* A profile drawn: chart, a reading under a slider, and the numbers in words. */
import { node, numberList } from "../common/dom";
import type { MapPage } from "./page";
import type { Spot } from "./ground";
import type { ProfilePoint } from "./profile";
import { ticksOf, wetParts } from "./profile";

const [WIDE, HIGH, LEFT, RIGHT, TOP, BELOW] = [340, 190, 52, 10, 12, 34];
const LEAST_SPAN = 0.1;
const PAD_FRAC = 0.08;

type Attributes = Readonly<Record<string, string | number>>;

/** Where numbers in shown units lie on the chart. */
interface Scales {
  readonly factor: number;
  readonly total: number;
  readonly low: number;
  readonly high: number;
  readonly x: (run: number) => number;
  readonly y: (level: number) => number;
  /** How many times heights are stretched. */
  readonly stretch: number;
}

function drawn(tag: string, attributes: Attributes, text?: string): SVGElement {
  // The page's own drawing names the space of names, so that no address stands in a script.
  const made = document.createElementNS(document.querySelector(".patterns")!.namespaceURI, tag) as SVGElement;
  Object.entries(attributes).forEach(([name, value]) => made.setAttribute(name, String(value)));
  if (text !== undefined) {
    made.textContent = text;
  }
  return made;
}

function scalesOf(points: readonly ProfilePoint[], known: readonly ProfilePoint[], factor: number): Scales {
  const total = points[points.length - 1]!.run * factor;
  const least = Math.min(...known.map((point) => point.elev * factor));
  const most = Math.max(...known.map((point) => (point.elev + point.water) * factor), least + LEAST_SPAN);
  const pad = (most - least) * PAD_FRAC;
  const [low, high] = [least - pad, most + pad];
  const [across, up] = [WIDE - LEFT - RIGHT, HIGH - TOP - BELOW];
  return {
    factor, total, low, high,
    x: (run) => LEFT + (run / Math.max(total, 1e-9)) * across,
    y: (level) => TOP + (1 - (level - low) / (high - low)) * up,
    stretch: up / (high - low) / (across / Math.max(total, 1e-9)),
  };
}

function drawAxes(chart: SVGElement, scales: Scales, symbol: string): void {
  const { x, y } = scales;
  const up = ticksOf(scales.low, scales.high, 4);
  for (const tick of up.ticks) {
    chart.append(drawn("line", { x1: LEFT, x2: WIDE - RIGHT, y1: y(tick), y2: y(tick), class: "grid" }));
    const at = { x: LEFT - 5, y: y(tick) + 4, "text-anchor": "end" };
    chart.append(drawn("text", at, tick.toFixed(up.decimals)));
  }
  const across = ticksOf(0, scales.total, 5);
  for (const tick of across.ticks) {
    const foot = { x1: x(tick), x2: x(tick), y1: HIGH - BELOW, y2: HIGH - BELOW + 4 };
    chart.append(drawn("line", { ...foot, class: "axis" }));
    const at = { x: x(tick), y: HIGH - BELOW + 16, "text-anchor": "middle" };
    chart.append(drawn("text", at, tick.toFixed(across.decimals)));
  }
  const middle = { x: (LEFT + WIDE) / 2, y: HIGH - 3, "text-anchor": "middle" };
  chart.append(drawn("text", middle, `along the line, ${symbol}`));
  chart.append(drawn("text", { x: 4, y: 10 }, symbol));
}

function drawGround(chart: SVGElement, scales: Scales, known: readonly ProfilePoint[]): void {
  const { factor, x, y } = scales;
  const path = (list: readonly ProfilePoint[], level: (point: ProfilePoint) => number): string[] =>
    list.map((point) => `${x(point.run * factor).toFixed(1)},${y(level(point) * factor).toFixed(1)}`);
  for (const part of wetParts(known)) {
    const outline = [...path(part, (p) => p.elev + p.water), ...path(part, (p) => p.elev).reverse()];
    chart.append(drawn("polygon", { points: outline.join(" "), class: "standing" }));
  }
  chart.append(drawn("polyline", { points: path(known, (p) => p.elev).join(" "), class: "surface" }));
}

/** A slider along the line: it moves the pointer on the chart and on the map, and says what lies there. */
function makeSlider(
  page: MapPage, points: readonly ProfilePoint[], scales: Scales, pointer: SVGElement, mark: (at: Spot) => void,
): Node[] {
  const { units } = page;
  const reading = node("output", "reading");
  const slider = node("input", "slide");
  Object.assign(slider, { type: "range", min: 0, max: points.length - 1, value: 0 });
  slider.setAttribute("aria-label", "Place along the line");
  const read = (): void => {
    const point = points[Number(slider.value)]!;
    const ground = Number.isNaN(point.elev) ? "no elevation" : `ground ${units.format(point.elev, "m")}`;
    const water = point.water > 0 ? `, water ${units.format(point.water, "m")} deep` : "";
    reading.textContent = `${units.length(point.run)} along: ${ground}${water}`;
    slider.setAttribute("aria-valuetext", reading.textContent);
    const at = String(scales.x(point.run * scales.factor));
    pointer.setAttribute("x1", at);
    pointer.setAttribute("x2", at);
    mark(point.at);
  };
  slider.addEventListener("input", read);
  read();
  return [slider, reading];
}

function numbersOf(page: MapPage, points: readonly ProfilePoint[], known: readonly ProfilePoint[]): HTMLElement {
  const { units } = page;
  const run = points[points.length - 1]!.run;
  const fall = known[0]!.elev - known[known.length - 1]!.elev;
  const elevs = known.map((point) => point.elev);
  const wettest = Math.max(...known.map((point) => point.water));
  return numberList([
    ["Length", units.length(run)],
    ["Fall from start to end", units.format(fall, "m")],
    ["Mean slope", run > 0 ? units.format((100 * fall) / run, "pct") : "not assessed"],
    ["Lowest ground", units.format(Math.min(...elevs), "m")],
    ["Highest ground", units.format(Math.max(...elevs), "m")],
    ["Deepest water on it", wettest > 0 ? units.format(wettest, "m") : "none"],
  ]);
}

/** Makes the parts of the panel; `mark` shows a place on the map. */
export function profilePanel(page: MapPage, points: readonly ProfilePoint[], mark: (at: Spot) => void): Node[] {
  const { units } = page;
  const known = points.filter((point) => !Number.isNaN(point.elev));
  if (known.length < 2) {
    return [node("p", "lead", "There is no elevation under this line.")];
  }
  const { factor, symbol } = units.shown("m");
  const scales = scalesOf(points, known, factor);
  const chart = drawn("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "profile", role: "img" });
  drawAxes(chart, scales, symbol);
  drawGround(chart, scales, known);
  const pointer = drawn("line", { x1: LEFT, x2: LEFT, y1: TOP, y2: HIGH - BELOW, class: "pointer" });
  chart.append(pointer);
  const [run, first, last] = [points[points.length - 1]!.run, known[0]!, known[known.length - 1]!];
  const ends = `from ${units.format(first.elev, "m")} to ${units.format(last.elev, "m")}`;
  chart.setAttribute("aria-label", `Profile, ${units.length(run)} long, ${ends}`);
  const times = scales.stretch.toFixed(scales.stretch >= 10 ? 0 : 1);
  const hint = `Heights stretched ${times} times. Blue: water left standing by ${page.storms.name()}.`;
  return [
    chart,
    ...makeSlider(page, points, scales, pointer, mark),
    node("p", "hint", hint),
    numbersOf(page, points, known),
  ];
}
