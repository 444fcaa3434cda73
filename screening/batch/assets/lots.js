"use strict";
(async () => {
  const TILE = 256, ROW = 28, KEPT_TILES = 400, SMALL_PX = 4;
  const CLASSES = [[0, "#ffffd9", "no points"], [1e-9, "#fee391", "score up to 5"], [5, "#fe9929", "score 5 to 10"],
    [10, "#cc4c02", "score 10 to 20"], [20, "#662506", "score 20 and more"]];
  const UNKNOWN = "#9aa0a6";
  const $ = (id) => document.getElementById(id);

  async function unpack(id) {
    const bytes = Uint8Array.from(atob($(id).textContent), (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).arrayBuffer();
  }
  const packed = new Int32Array(await unpack("shapes"));
  const table = JSON.parse(new TextDecoder().decode(await unpack("table")));
  const n = table.n, word = (name, i) => table.words[name].texts[table.words[name].codes[i]];
  const number = table.numbers;

  // Shapes: x and y in steps, rings by lot.
  const xy = new Float64Array(packed.length), ringStart = [0], lotRing = new Int32Array(n + 1);
  const box = new Float64Array(4 * n);
  let at = 0, used = 0, x = 0, y = 0;
  for (let i = 0; i < n; i++) {
    let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let rings = packed[at++]; rings > 0; rings--) {
      for (let points = packed[at++]; points > 0; points--) {
        x += packed[at++]; y += packed[at++];
        xy[used++] = x; xy[used++] = y;
        west = Math.min(west, x); east = Math.max(east, x); south = Math.min(south, y); north = Math.max(north, y);
      }
      ringStart.push(used);
    }
    lotRing[i + 1] = ringStart.length - 1;
    box.set([west, south, east, north], 4 * i);
  }
  let [W, S, E, N] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < n; i++) {
    W = Math.min(W, box[4 * i]); S = Math.min(S, box[4 * i + 1]); E = Math.max(E, box[4 * i + 2]); N = Math.max(N, box[4 * i + 3]);
  }
  if (!(E > W)) [W, S, E, N] = [0, 0, 1000, 1000];

  // Spatial index: lots by the cells of a lattice that their boxes meet.
  const side = Math.max(Math.sqrt(((E - W) * (N - S)) / Math.max(n / 4, 1)), 1);
  const nCols = Math.floor((E - W) / side) + 1, nRows = Math.floor((N - S) / side) + 1;
  const cellOf = (v, low, count) => Math.min(Math.max(Math.floor((v - low) / side), 0), count - 1);
  const lattice = new Map();
  for (let i = 0; i < n; i++) {
    if (!(box[4 * i + 2] >= box[4 * i])) continue;
    for (let r = cellOf(box[4 * i + 1], S, nRows); r <= cellOf(box[4 * i + 3], S, nRows); r++) {
      for (let c = cellOf(box[4 * i], W, nCols); c <= cellOf(box[4 * i + 2], W, nCols); c++) {
        const key = r * nCols + c;
        if (lattice.has(key)) lattice.get(key).push(i); else lattice.set(key, [i]);
      }
    }
  }
  function lotsIn(west, south, east, north) {
    const found = new Set();
    if (east < W || west > E || north < S || south > N) return [];
    for (let r = cellOf(south, S, nRows); r <= cellOf(north, S, nRows); r++) {
      for (let c = cellOf(west, W, nCols); c <= cellOf(east, W, nCols); c++) {
        for (const i of lattice.get(r * nCols + c) || []) {
          if (box[4 * i] <= east && box[4 * i + 2] >= west && box[4 * i + 1] <= north && box[4 * i + 3] >= south) found.add(i);
        }
      }
    }
    return [...found].sort((a, b) => a - b);
  }
  function holds(i, px, py) {
    let inside = false;
    for (let r = lotRing[i]; r < lotRing[i + 1]; r++) {
      for (let a = ringStart[r], b = ringStart[r + 1] - 2; a < ringStart[r + 1]; b = a, a += 2) {
        if (xy[a + 1] > py !== xy[b + 1] > py && px < ((xy[b] - xy[a]) * (py - xy[a + 1])) / (xy[b + 1] - xy[a + 1]) + xy[a]) inside = !inside;
      }
    }
    return inside;
  }
  const classOf = (i) => {
    if (number.visit_rank[i] === null) return -1;
    let k = 0;
    while (k + 1 < CLASSES.length && number.visit_score[i] >= CLASSES[k + 1][0]) k++;
    return k;
  };
  const lotClass = Int8Array.from({ length: n }, (_, i) => classOf(i));

  // View: steps per pixel are powers of 2, so that tiles can be kept.
  const canvas = $("map"), pen = canvas.getContext("2d");
  let level = 0, centre = [(W + E) / 2, (S + N) / 2], chosen = -1, shown = new Uint8Array(n).fill(1);
  const tiles = new Map();
  const scale = () => 2 ** level;
  function outline(to, i, toX, toY) {
    for (let r = lotRing[i]; r < lotRing[i + 1]; r++) {
      for (let a = ringStart[r]; a < ringStart[r + 1]; a += 2) {
        if (a === ringStart[r]) to.moveTo(toX(xy[a]), toY(xy[a + 1])); else to.lineTo(toX(xy[a]), toY(xy[a + 1]));
      }
      to.closePath();
    }
  }
  function tile(tx, ty) {
    const key = `${level}/${tx}/${ty}`;
    if (tiles.has(key)) { const found = tiles.get(key); tiles.delete(key); tiles.set(key, found); return found; }
    const s = scale(), west = tx * TILE * s, north = -ty * TILE * s;
    const lots = lotsIn(west, north - TILE * s, west + TILE * s, north);
    let made = null;
    if (lots.length) {
      made = document.createElement("canvas");
      made.width = made.height = TILE;
      const to = made.getContext("2d"), toX = (v) => (v - west) / s, toY = (v) => (north - v) / s;
      for (let k = -1; k < CLASSES.length; k++) {
        const own = lots.filter((i) => lotClass[i] === k && shown[i]);
        to.fillStyle = k < 0 ? UNKNOWN : CLASSES[k][1];
        to.strokeStyle = "#3c3c3c"; to.lineWidth = 0.6;
        for (let first = 0; first < own.length; first += 100) {
          to.beginPath();
          let small = true;
          for (const i of own.slice(first, first + 100)) {
            const wide = (box[4 * i + 2] - box[4 * i]) / s, high = (box[4 * i + 3] - box[4 * i + 1]) / s;
            if (Math.max(wide, high) < SMALL_PX) to.rect(toX(box[4 * i]), toY(box[4 * i + 3]), Math.max(wide, 1), Math.max(high, 1));
            else { outline(to, i, toX, toY); small = false; }
          }
          to.fill("evenodd");
          if (!small) to.stroke();
        }
      }
    }
    tiles.set(key, made);
    if (tiles.size > KEPT_TILES) tiles.delete(tiles.keys().next().value);
    return made;
  }
  let isDue = false;
  const redraw = () => { if (!isDue) { isDue = true; requestAnimationFrame(draw); } };
  function draw() {
    isDue = false;
    const w = canvas.clientWidth, h = canvas.clientHeight, s = scale();
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    pen.clearRect(0, 0, w, h);
    const left = centre[0] / s - w / 2, top = -centre[1] / s - h / 2;
    for (let ty = Math.floor(top / TILE); ty * TILE < top + h; ty++) {
      for (let tx = Math.floor(left / TILE); tx * TILE < left + w; tx++) {
        const found = tile(tx, ty);
        if (found) pen.drawImage(found, Math.round(tx * TILE - left), Math.round(ty * TILE - top));
      }
    }
    if (chosen >= 0) {
      pen.beginPath();
      outline(pen, chosen, (v) => v / s - left, (v) => -v / s - top);
      pen.lineWidth = 4; pen.strokeStyle = "#0b4f8a"; pen.stroke();
    }
  }
  function fit() {
    const w = Math.max(canvas.clientWidth, 100), h = Math.max(canvas.clientHeight, 100);
    level = Math.ceil(Math.log2(Math.max((E - W) / w, (N - S) / h)));
    centre = [(W + E) / 2, (S + N) / 2];
    redraw();
  }
  function zoom(by) { level = Math.min(Math.max(level + by, -4), 16); redraw(); }
  $("in").onclick = () => zoom(-1);
  $("out").onclick = () => zoom(1);
  $("all").onclick = fit;
  canvas.addEventListener("wheel", (event) => { event.preventDefault(); zoom(Math.sign(event.deltaY)); }, { passive: false });
  let drag = null;
  canvas.addEventListener("pointerdown", (event) => { drag = { x: event.clientX, y: event.clientY, moved: false }; canvas.setPointerCapture(event.pointerId); });
  canvas.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const dx = event.clientX - drag.x, dy = event.clientY - drag.y;
    if (Math.hypot(dx, dy) > 3 || drag.moved) {
      centre = [centre[0] - dx * scale(), centre[1] + dy * scale()];
      drag = { x: event.clientX, y: event.clientY, moved: true };
      redraw();
    }
  });
  canvas.addEventListener("pointerup", (event) => {
    if (drag && !drag.moved) {
      const edge = canvas.getBoundingClientRect();
      const px = centre[0] + (event.clientX - edge.left - canvas.clientWidth / 2) * scale();
      const py = centre[1] - (event.clientY - edge.top - canvas.clientHeight / 2) * scale();
      choose(lotsIn(px, py, px, py).find((i) => shown[i] && holds(i, px, py)) ?? -1, true);
    }
    drag = null;
  });
  canvas.addEventListener("keydown", (event) => {
    const step = 60 * scale(), moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (moves[event.key]) { centre = centre.map((v, k) => v + moves[event.key][k]); redraw(); event.preventDefault(); }
    if (event.key === "+") zoom(-1);
    if (event.key === "-") zoom(1);
  });

  // Table: only the rows in view are there.
  const COLUMNS = ["visit_rank", "lot_id", "visit_score", "main_finding"];
  let order = Array.from({ length: n }, (_, i) => i), sortBy = "visit_rank", isDown = false;
  const cell = (name, i) => {
    if (!(name in number)) return word(name, i);
    const value = number[name][i] ?? "";
    return name === "visit_score" && value !== "" ? value.toFixed(1) : value;
  };
  const finding = (i) => word("main_finding", i) || word("reason", i);
  for (const name of COLUMNS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = table.labels[name];
    button.onclick = () => { isDown = sortBy === name && !isDown; sortBy = name; refresh(); };
    $("head").append(button);
  }
  for (const status of [...table.words.status.texts].sort()) $("status").append(new Option(status, status));
  function refresh() {
    const text = $("text").value.trim().toLowerCase(), least = Number($("least").value) || 0, status = $("status").value;
    for (let i = 0; i < n; i++) {
      shown[i] = (!status || word("status", i) === status) && (!least || (number.visit_score[i] ?? -1) >= least) &&
        (!text || word("lot_id", i).toLowerCase().includes(text) || finding(i).toLowerCase().includes(text)) ? 1 : 0;
    }
    order = [];
    for (let i = 0; i < n; i++) if (shown[i]) order.push(i);
    if (sortBy !== "visit_rank" || isDown) {
      const sign = isDown ? -1 : 1, values = sortBy in number ? number[sortBy].map((v) => v ?? Infinity) : null;
      order.sort((a, b) => sign * (values ? values[a] - values[b] || 0 : word(sortBy, a).localeCompare(word(sortBy, b))) || a - b);
    }
    $("space").style.height = `${order.length * ROW}px`;
    $("rows").scrollTop = 0;
    $("count").textContent = `${order.length.toLocaleString()} of ${n.toLocaleString()} lots`;
    tiles.clear();
    rows();
    redraw();
  }
  function rows() {
    const list = $("rows"), first = Math.max(Math.floor(list.scrollTop / ROW) - 5, 0);
    const last = Math.min(first + Math.ceil(list.clientHeight / ROW) + 10, order.length);
    const made = [];
    for (let place = first; place < last; place++) {
      const i = order[place], row = document.createElement("div");
      row.className = i === chosen ? "row chosen" : "row";
      row.style.top = `${place * ROW}px`;
      for (const name of COLUMNS) {
        const part = document.createElement("span");
        part.textContent = name === "main_finding" ? finding(i) : cell(name, i);
        row.append(part);
      }
      row.onclick = () => choose(i, false);
      made.push(row);
    }
    $("space").replaceChildren(...made);
  }
  function choose(i, fromMap) {
    chosen = i;
    const detail = $("detail");
    detail.replaceChildren();
    if (i >= 0) {
      for (const name of Object.keys(table.labels)) {
        if (cell(name, i) === "") continue;
        const term = document.createElement("dt"), value = document.createElement("dd");
        term.textContent = table.labels[name]; value.textContent = cell(name, i);
        detail.append(term, value);
      }
      if (fromMap) $("rows").scrollTop = Math.max(order.indexOf(i) * ROW - 60, 0);
      else if (box[4 * i + 2] >= box[4 * i]) {
        centre = [(box[4 * i] + box[4 * i + 2]) / 2, (box[4 * i + 1] + box[4 * i + 3]) / 2];
        level = Math.min(level, 3);
      }
    }
    rows();
    redraw();
  }
  $("rows").addEventListener("scroll", rows);
  $("rows").addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || !order.length) return;
    event.preventDefault();
    const place = Math.min(Math.max(order.indexOf(chosen) + step, 0), order.length - 1);
    $("rows").scrollTop = Math.max(place * ROW - 60, 0);
    choose(order[place], false);
  });
  for (const id of ["text", "least", "status"]) $(id).addEventListener("input", refresh);
  for (const [colour, words] of [...CLASSES.map((row) => [row[1], row[2]]), [UNKNOWN, "not assessed"]]) {
    const item = document.createElement("li"), swatch = document.createElement("span");
    swatch.style.background = colour;
    item.append(swatch, words);
    $("legend").append(item);
  }
  new ResizeObserver(() => { rows(); redraw(); }).observe(canvas);
  refresh();
  fit();
  document.body.dataset.ready = "yes";
})();
