/* A profile: the ground under a line, and the water that the storm shown leaves on it. */
function drawn(tag, attributes, text) {
  /* The page's own drawing names the space of names, so that no address stands in a script. */
  const made = document.createElementNS(document.querySelector(".patterns").namespaceURI, tag);
  Object.entries(attributes).forEach(([name, value]) => made.setAttribute(name, value));
  if (text !== undefined) { made.textContent = text; }
  return made;
}

/* Ground between the middles of four cells; where one of them is unknown, that of the cell itself. */
function groundAt(ground, at) {
  const [x, y] = ground.placeOf(at);
  const cell = ground.cellAt(at);
  if (cell < 0) { return { elev: NaN, cell }; }
  const [col, row] = [Math.floor(x - 0.5), Math.floor(y - 0.5)];
  if (col < 0 || row < 0 || col + 1 >= ground.cols || row + 1 >= ground.rows) { return { elev: ground.elev(cell), cell }; }
  const [east, south] = [x - 0.5 - col, y - 0.5 - row];
  const nw = row * ground.cols + col;
  const upper = ground.elev(nw) * (1 - east) + ground.elev(nw + 1) * east;
  const lower = ground.elev(nw + ground.cols) * (1 - east) + ground.elev(nw + ground.cols + 1) * east;
  const elev = upper * (1 - south) + lower * south;
  return { elev: Number.isNaN(elev) ? ground.elev(cell) : elev, cell };
}
/* Metres between two places, along the grid's own axes. */
function metresBetween(ground, a, b) {
  const [p, q] = [ground.placeOf(a), ground.placeOf(b)];
  return Math.hypot(p[0] - q[0], p[1] - q[1]) * ground.cell;
}
function profileAlong(ground, depthOf, line) {
  const points = [];
  let run = 0;
  line.forEach((at, leg) => {
    if (!leg) { return; }
    const from = line[leg - 1];
    const length = metresBetween(ground, from, at);
    const parts = Math.max(1, Math.min(400, Math.ceil(length / (ground.cell / 2))));
    for (let part = leg === 1 ? 0 : 1; part <= parts; part += 1) {
      const share = part / parts;
      const place = L.latLng(from.lat + share * (at.lat - from.lat), from.lng + share * (at.lng - from.lng));
      const { elev, cell } = groundAt(ground, place);
      points.push({ at: place, run: run + share * length, elev, water: cell < 0 ? 0 : depthOf(cell) });
    }
    run += length;
  });
  return points;
}

function niceStep(span, parts) {
  const rough = span / parts;
  const power = Math.pow(10, Math.floor(Math.log10(rough)));
  return [1, 2, 5, 10].map((step) => step * power).find((step) => step >= rough);
}
function ticksOf(low, high, parts) {
  const step = niceStep(Math.max(high - low, 1e-9), parts);
  const ticks = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-9; k += 1) { ticks.push(k * step); }
  return { ticks, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

/* Chart, reading under a slider, and the numbers in words; `mark` shows a place on the map. */
function profilePanel(page, points, mark) {
  const { units } = page;
  const known = points.filter((point) => !Number.isNaN(point.elev));
  if (known.length < 2) { return [node("p", "lead", "There is no elevation under this line.")]; }
  const factor = units.factorOf("m");
  const symbol = units.symbolOf("m");
  const [WIDE, HIGH, LEFT, TOP, BELOW] = [340, 190, 52, 12, 34];
  const total = points[points.length - 1].run * factor;
  const levels = known.map((point) => point.elev * factor);
  const tops = known.map((point) => (point.elev + point.water) * factor);
  const low = Math.min(...levels);
  const high = Math.max(...tops, low + 0.1);
  const pad = (high - low) * 0.08;
  const x = (run) => LEFT + (run / Math.max(total, 1e-9)) * (WIDE - LEFT - 10);
  const y = (level) => TOP + (1 - (level - low + pad) / (high - low + 2 * pad)) * (HIGH - TOP - BELOW);
  const chart = drawn("svg", { viewBox: "0 0 " + WIDE + " " + HIGH, class: "profile", role: "img" });
  const across = ticksOf(0, total, 5);
  const up = ticksOf(low - pad, high + pad, 4);
  up.ticks.forEach((tick) => {
    chart.append(drawn("line", { x1: LEFT, x2: WIDE - 10, y1: y(tick), y2: y(tick), class: "grid" }));
    chart.append(drawn("text", { x: LEFT - 5, y: y(tick) + 4, "text-anchor": "end" }, tick.toFixed(up.decimals)));
  });
  across.ticks.forEach((tick) => {
    chart.append(drawn("line", { x1: x(tick), x2: x(tick), y1: HIGH - BELOW, y2: HIGH - BELOW + 4, class: "axis" }));
    chart.append(drawn("text", { x: x(tick), y: HIGH - BELOW + 16, "text-anchor": "middle" }, tick.toFixed(across.decimals)));
  });
  chart.append(drawn("text", { x: (LEFT + WIDE) / 2, y: HIGH - 3, "text-anchor": "middle" }, "along the line, " + symbol));
  chart.append(drawn("text", { x: 4, y: 10 }, symbol));
  const path = (list, level) => list.map((point) => x(point.run * factor).toFixed(1) + "," + y(level(point)).toFixed(1));
  wetParts(known).forEach((part) => {
    const outline = [...path(part, (p) => (p.elev + p.water) * factor), ...path(part, (p) => p.elev * factor).reverse()];
    chart.append(drawn("polygon", { points: outline.join(" "), class: "standing" }));
  });
  chart.append(drawn("polyline", { points: path(known, (p) => p.elev * factor).join(" "), class: "surface" }));
  const pointer = drawn("line", { x1: LEFT, x2: LEFT, y1: TOP, y2: HIGH - BELOW, class: "pointer" });
  chart.append(pointer);

  const first = known[0];
  const last = known[known.length - 1];
  const fall = first.elev - last.elev;
  const run = points[points.length - 1].run;
  const stretch = ((HIGH - TOP - BELOW) / (high - low + 2 * pad)) / ((WIDE - LEFT - 10) / Math.max(total, 1e-9));
  chart.setAttribute("aria-label", "Profile, " + units.length(run) + " long, from " + units.format(first.elev, "m") + " to " + units.format(last.elev, "m"));
  const reading = node("output", "reading");
  const slider = document.createElement("input");
  Object.assign(slider, { type: "range", min: 0, max: points.length - 1, value: 0, className: "slide" });
  slider.setAttribute("aria-label", "Place along the line");
  const read = () => {
    const point = points[Number(slider.value)];
    const ground = Number.isNaN(point.elev) ? "no elevation" : "ground " + units.format(point.elev, "m");
    reading.textContent = units.length(point.run) + " along: " + ground + (point.water > 0 ? ", water " + units.format(point.water, "m") + " deep" : "");
    slider.setAttribute("aria-valuetext", reading.textContent);
    pointer.setAttribute("x1", x(point.run * factor));
    pointer.setAttribute("x2", x(point.run * factor));
    mark(point.at);
  };
  slider.addEventListener("input", read);
  read();
  const wettest = Math.max(...known.map((point) => point.water));
  return [
    chart, slider, reading,
    node("p", "hint", "Heights stretched " + (stretch >= 10 ? stretch.toFixed(0) : stretch.toFixed(1)) + " times. Blue: water left standing by " + page.stormName() + "."),
    numberList([
      ["Length", units.length(run)],
      ["Fall from start to end", units.format(fall, "m")],
      ["Mean slope", run > 0 ? units.format((100 * fall) / run, "pct") : "not assessed"],
      ["Lowest ground", units.format(Math.min(...known.map((point) => point.elev)), "m")],
      ["Highest ground", units.format(Math.max(...known.map((point) => point.elev)), "m")],
      ["Deepest water on it", wettest > 0 ? units.format(wettest, "m") : "none"],
    ]),
  ];
}
function wetParts(points) {
  const parts = [];
  let part = null;
  points.forEach((point) => {
    if (point.water > 0) { if (!part) { part = []; parts.push(part); } part.push(point); } else { part = null; }
  });
  return parts.filter((wet) => wet.length > 1);
}
