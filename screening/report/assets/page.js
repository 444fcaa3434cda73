"use strict";
/* Draws the layers of the page's data on the map and links map, details, findings and tables.
   Text of the data reaches the page through textContent alone. */
function screeningPage(map) {
  const data = JSON.parse(document.getElementById("screening-data").textContent);
  const byId = (id) => document.getElementById(id);
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const isNarrow = () => window.matchMedia("(max-width: 760px)").matches;
  const PANES = ["basemap", "relief", "roads", "soils", "lots", "contributing_areas", "infiltration_zones", "driveways", "driveway_edges",
    "storm_water", "low_spots", "flow_casing", "flow_paths", "overflow_paths", "drains", "barriers", "others", "structures", "driveway_arrows", "structure_sides", "driveway_low_points", "septic", "wells", "wall_arrivals", "doors", "chosen"];
  PANES.forEach((name, order) => { map.createPane(name).style.zIndex = 210 + 10 * order; });
  map.getPane("chosen").classList.add("no-hit");
  const container = map.getContainer();
  const layers = {};
  const groups = {};
  data.layers.forEach((layer) => { layers[layer.key] = layer; });

  function node(tag, className, text) {
    const made = document.createElement(tag);
    if (className) { made.className = className; }
    if (text !== undefined) { made.textContent = text; }
    if (text !== undefined) { made.dir = "auto"; }
    return made;
  }
  let hush = 0;
  function say(text, stays) {
    byId("status").textContent = text;
    window.clearTimeout(hush);
    if (!stays) { hush = window.setTimeout(() => { byId("status").textContent = ""; }, 5000); }
  }
  function nameOf(layer, feature) { return feature.id ? layer.noun + " " + feature.id : layer.noun; }

  /* Pictures */
  data.images.forEach((picture) => {
    groups[picture.key] = groups[picture.key] || L.layerGroup();
    const overlay = L.imageOverlay(picture.url, picture.bounds, { pane: picture.key, alt: "", interactive: false });
    groups[picture.key].addLayer(overlay);
  });

  /* Features */
  /* A clear fill, unlike none, still answers to a click. */
  function pathOptions(layer, feature) {
    const style = layer.styles[feature.c];
    const line = style.shape === "line";
    return {
      pane: layer.key, color: style.color, weight: style.weight, dashArray: style.dash || null,
      fill: !line, fillColor: style.pattern ? "url(#" + style.pattern + ")" : style.fill || "#ffffff",
      fillOpacity: style.pattern ? 1 : style.fill_opacity || 0, noClip: line, smoothFactor: 0.5,
    };
  }
  /* Lines grow with the map, so that neither a whole street nor one wall drowns in them. */
  let thin = 1;
  const weighted = [];
  function thinOf(zoom) { return Math.min(1, Math.max(0.4, Math.pow(2, (zoom - 19) / 2))); }
  function reweigh() {
    const now = thinOf(map.getZoom());
    container.classList.toggle("far", map.getZoom() < 18.5);
    if (now === thin) { return; }
    thin = now;
    weighted.forEach(([shape, weight]) => {
      shape.setStyle({ weight: weight * thin });
      shape.eachLayer((part) => { if (part.setRadius) { part.setRadius(3 + 6 * thin); } });
    });
  }
  function drawFeature(layer, feature, index) {
    const style = pathOptions(layer, feature);
    const isLine = layer.styles[feature.c].shape === "line";
    const made = [];
    const geo = (changes, grows) => {
      const options = Object.assign({}, style, changes);
      const shape = L.geoJSON({ type: "Feature", properties: {}, geometry: feature.g }, {
        pane: options.pane, style: options, interactive: options.interactive !== false,
        pointToLayer: (_, at) => L.circleMarker(at, Object.assign({ radius: 9 }, options)),
      });
      if (grows) { weighted.push([shape, options.weight]); }
      made.push(shape);
    };
    if (layer.key === "lots" || isLine) {
      geo({ pane: layer.key === "flow_paths" ? "flow_casing" : layer.key, color: "#ffffff", weight: style.weight + 2.2, opacity: 0.75, fill: false, dashArray: null, interactive: false }, true);
    }
    if (isLine) {
      geo({ interactive: false }, true);
      geo({ weight: 18, opacity: 0, dashArray: null }, false);
    } else {
      geo({}, true);
    }
    const target = made[made.length - 1];
    target.on("click", (event) => { L.DomEvent.stop(event); choose(layer.key, index, false); });
    target.bindTooltip(node("span", "", nameOf(layer, feature)), { sticky: true, className: "plain-tip" });
    feature.shape = target;
    return made;
  }
  function addName(group, layer, feature, className, text) {
    if (!feature.shape) { return; }
    const box = feature.shape.getBounds();
    const at = [box.getNorth() - 0.12 * (box.getNorth() - box.getSouth()), box.getCenter().lng];
    const tip = L.tooltip({ permanent: true, direction: "center", className: className, pane: "tooltipPane", interactive: false });
    group.addLayer(tip.setLatLng(at).setContent(node("span", "", text)));
  }
  data.layers.forEach((layer) => {
    const group = groups[layer.key] = groups[layer.key] || L.layerGroup();
    layer.features.forEach((feature, index) => {
      if (!feature.g) { return; }
      const made = drawFeature(layer, feature, index);
      if (layer.key !== "contributing_areas") { made.forEach((part) => group.addLayer(part)); }
      if (layer.key === "lots" && layer.features.length > 1) { addName(group, layer, feature, "lot-name", feature.id); }
      if (layer.key === "soils") { addName(group, layer, feature, "lot-name soil-name", feature.id); }
    });
  });
  groups.arrows = L.layerGroup();
  groups.chosen = L.layerGroup().addTo(map);

  /* Arrows that point the way water goes, at an even spacing on the screen */
  function drawArrows() {
    groups.arrows.clearLayers();
    const flow = layers.flow_paths;
    if (!flow || !map.hasLayer(groups.flow_paths)) { return; }
    const seen = map.getPixelBounds();
    const origin = map.getPixelOrigin();
    let left = 600;
    flow.features.forEach((feature) => {
      if (!feature.g) { return; }
      const size = (4 + 1.6 * flow.styles[feature.c].weight) * (0.3 + 0.7 * thin);
      const parts = feature.g.type === "LineString" ? [feature.g.coordinates] : feature.g.coordinates;
      parts.forEach((part) => {
        const path = walkAlong(part.map((at) => map.latLngToLayerPoint([at[1], at[0]])));
        for (let due = 45; due <= path.length && left > 0; due += 95) {
          const at = path.at(due);
          if (!seen.contains(at.add(origin))) { continue; }
          /* The way over the arrow's own length, so that a single cell's step does not turn it. */
          const way = path.at(due + size).subtract(path.at(due - size));
          addArrow(at, way.divideBy(Math.max(way.distanceTo([0, 0]), 1e-6)), size);
          left -= 1;
        }
      });
    });
  }
  function walkAlong(points) {
    const run = [0];
    points.forEach((point, i) => { if (i) { run.push(run[i - 1] + point.distanceTo(points[i - 1])); } });
    const total = run[run.length - 1];
    const pointAt = (distance) => {
      const wanted = Math.min(Math.max(distance, 0), total);
      const i = Math.max(1, run.findIndex((value) => value >= wanted));
      const share = (wanted - run[i - 1]) / Math.max(run[i] - run[i - 1], 1e-6);
      return points[i - 1].multiplyBy(1 - share).add(points[i].multiplyBy(share));
    };
    return { at: pointAt, length: total };
  }
  function addArrow(at, way, size) {
    const corner = (along, across) => map.layerPointToLatLng(L.point(at.x + along * way.x - across * way.y, at.y + along * way.y + across * way.x));
    groups.arrows.addLayer(L.polygon([corner(size, 0), corner(-size * 0.8, size * 0.75), corner(-size * 0.3, 0), corner(-size * 0.8, -size * 0.75)],
      { pane: "flow_paths", color: "#ffffff", weight: 1, fillColor: "#0b3f86", fillOpacity: 1, interactive: false, smoothFactor: 0, noClip: true }));
  }

  /* Switches */
  function setLayer(key, on) {
    if (!groups[key]) { return; }
    if (on) { map.addLayer(groups[key]); } else { map.removeLayer(groups[key]); }
    if (key === "flow_paths") {
      if (on) { map.addLayer(groups.arrows); drawArrows(); } else { map.removeLayer(groups.arrows); }
    }
  }
  if (data.basemap) {
    groups.basemap = L.tileLayer(data.basemap.url, { pane: "basemap", maxNativeZoom: 19, maxZoom: 23, referrerPolicy: "no-referrer" });
    let failed = false;
    groups.basemap.on("tileerror", () => {
      if (!failed) { failed = true; say("The online base map did not load. All else on this page works without it.", true); }
    });
    groups.basemap.on("add remove", (event) => {
      failed = false;
      map.getPane("relief").style.opacity = event.type === "add" ? "0.5" : "";
      byAttribution[event.type === "add" ? "addAttribution" : "removeAttribution"](L.Util.escapeText(data.basemap.attribution));
    });
  }
  L.Util.escapeText = (text) => text.replace(/[&<>"']/g, (mark) => "&#" + mark.charCodeAt(0) + ";");
  const byAttribution = L.control.attribution({ prefix: false }).addTo(map);
  byAttribution.addAttribution(L.Util.escapeText(data.tagline));
  document.querySelectorAll("[data-switch]").forEach((box) => {
    box.addEventListener("change", () => {
      setLayer(box.dataset.switch, box.checked);
      say(box.parentElement.textContent.trim() + (box.checked ? ": shown" : ": hidden"));
    });
  });

  /* Details of one feature */
  let opener = null;
  let chosen = null;
  function close() {
    byId("detail").hidden = true;
    groups.chosen.clearLayers();
    groups.contributing_areas.clearLayers();
    document.querySelectorAll("tr.chosen").forEach((row) => row.classList.remove("chosen"));
    chosen = null;
  }
  function showVerdicts(body, layer, feature) {
    if (!feature.d.length) { return; }
    const list = node("ul", "verdicts");
    feature.d.forEach((number) => {
      const [mark, words, subject, compared, background] = data.verdicts[number];
      const isOwn = subject === nameOf(layer, feature);
      if (!isOwn && mark === "passed") { return; }
      const item = node("li");
      item.append(node("span", "mark " + mark.replace(" ", "-"), words), " ", node("bdi", "", isOwn ? compared : subject + ": " + compared));
      if (isOwn) { item.append(node("span", "source", background)); }
      list.append(item);
    });
    body.append(node("h3", "", "Checks"), list);
  }
  function showNumbers(body, layer, feature) {
    const list = node("dl");
    layer.columns.forEach(([label, meaning], column) => {
      const text = feature.v[column];
      if (text === "" || (column === 0 && text === feature.id) || column === findingOf(layer)) { return; }
      const term = node("dt", "", label);
      term.title = meaning;
      list.append(term, node("dd", "", text));
    });
    body.append(list);
  }
  function findingOf(layer) {
    const label = { lots: "Main finding", structures: "Why" }[layer.key];
    return label ? layer.columns.findIndex((column) => column[0] === label) : -1;
  }
  function showNear(body, layer, feature) {
    if (!feature.to.length) { return; }
    const box = node("div", "near");
    feature.to.forEach(([key, index]) => {
      const other = layers[key] && layers[key].features[index];
      if (!other || key === "contributing_areas") { return; }
      const button = node("button", "", nameOf(layers[key], other));
      button.type = "button";
      button.addEventListener("click", () => choose(key, index, true));
      box.append(button);
    });
    if (box.children.length) { body.append(node("h3", "", layer.key === "lots" ? "On this lot" : "See also"), box); }
  }
  function lotOf(key, index) {
    if (key === "lots") { return index; }
    const link = layers[key].features[index].to.find((to) => to[0] === "lots");
    return link ? link[1] : -1;
  }
  function showContributing(lot) {
    groups.contributing_areas.clearLayers();
    if (lot < 0 || !layers.contributing_areas) { return; }
    layers.lots.features[lot].to.filter((to) => to[0] === "contributing_areas").forEach((to) => {
      const area = layers.contributing_areas.features[to[1]];
      if (area.shape) { groups.contributing_areas.addLayer(area.shape); }
    });
  }
  function outline(feature) {
    groups.chosen.clearLayers();
    if (!feature.shape) { return; }
    [["#1a1a1a", 8], ["#ffe14d", 3.5]].forEach(([color, weight]) => {
      groups.chosen.addLayer(L.geoJSON(feature.g, { pane: "chosen", interactive: false,
        style: { color: color, weight: weight, fill: false, opacity: 1 },
        pointToLayer: (_, at) => L.circleMarker(at, { pane: "chosen", radius: 13, color: color, weight: weight / 2, fill: false, interactive: false }) }));
    });
  }
  function choose(key, index, moves) {
    const layer = layers[key];
    const feature = layer.features[index];
    chosen = [key, index];
    const body = byId("detail-body");
    body.replaceChildren();
    byId("detail-title").textContent = nameOf(layer, feature);
    const finding = feature.v[findingOf(layer)];
    if (finding) { body.append(node("p", "lead", finding)); }
    showVerdicts(body, layer, feature);
    body.append(node("h3", "", "Numbers"));
    showNumbers(body, layer, feature);
    showNear(body, layer, feature);
    byId("detail").hidden = false;
    body.scrollTop = 0;
    outline(feature);
    const lot = lotOf(key, index);
    showContributing(lot);
    document.querySelectorAll("tr.chosen").forEach((row) => row.classList.remove("chosen"));
    const row = lot >= 0 && document.querySelector('#lots-table [data-layer="lots"][data-index="' + lot + '"]');
    if (row) { row.closest("tr").classList.add("chosen"); }
    if (moves) { goTo(feature); byId("detail-title").focus({ preventScroll: !isNarrow() }); }
    byId("detail").closest(".side").scrollTop = 0;
    say(nameOf(layer, feature) + ": details shown");
  }
  function goTo(feature) {
    map.getContainer().scrollIntoView({ block: isNarrow() ? "start" : "nearest", behavior: "instant" });
    if (!feature.shape) { say("This has no place on the map."); return; }
    const below = isNarrow() ? Math.max(20, map.getSize().y - window.innerHeight * 0.5) : 40;
    map.fitBounds(feature.shape.getBounds(), { maxZoom: 20.5, paddingTopLeft: [60, 40], paddingBottomRight: [40, below], animate: !calm });
  }
  byId("detail-close").addEventListener("click", () => { const back = opener; close(); if (back) { back.focus(); } });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && chosen) { byId("detail-close").click(); }
  });
  document.querySelectorAll(".go").forEach((button) => {
    button.addEventListener("click", () => { opener = button; choose(button.dataset.layer, Number(button.dataset.index), true); });
  });

  /* Table */
  function sortBy(button) {
    const head = button.closest("th");
    const column = Number(button.dataset.column);
    const isNumber = head.classList.contains("num");
    const down = head.getAttribute("aria-sort") === "ascending";
    const rows = Array.from(document.querySelectorAll("#lots-table tbody tr"));
    const keyOf = (row) => row.cells[column].dataset.key;
    rows.sort((a, b) => {
      const [x, y] = [keyOf(a), keyOf(b)];
      if (x === "" || y === "") { return (x === "") - (y === ""); }
      const order = isNumber ? Number(x) - Number(y) : x.localeCompare(y);
      return down ? -order : order;
    });
    document.querySelector("#lots-table tbody").append(...rows);
    document.querySelectorAll("#lots-table thead th").forEach((th) => th.setAttribute("aria-sort", "none"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    say("Sorted by " + button.textContent.trim() + (down ? ", largest first" : ", smallest first"));
  }
  document.querySelectorAll(".sort").forEach((button) => button.addEventListener("click", () => sortBy(button)));

  /* Scale, north, first view */
  L.control.scale({ metric: data.units === "metric", imperial: data.units === "us", maxWidth: 130 }).addTo(map);
  const compass = L.control({ position: "topright" });
  compass.onAdd = () => {
    const box = node("div", "compass");
    box.append(node("div", "", "\u2191"), node("div", "", "N"));
    box.setAttribute("role", "img");
    box.setAttribute("aria-label", "North is up");
    return box;
  };
  compass.addTo(map);
  container.setAttribute("role", "application");
  container.setAttribute("aria-label", "Map of the lots. Arrow keys move it, plus and minus zoom. The table of lots says the same in words.");
  map.on("zoomend", reweigh);
  map.on("moveend", drawArrows);
  map.fitBounds(data.view, { padding: [24, 24], animate: false });
  map.setMaxBounds(L.latLngBounds(data.images[0].bounds).extend(data.view).pad(1));
  document.querySelectorAll("[data-switch]").forEach((box) => setLayer(box.dataset.switch, box.checked));
  reweigh();
  drawArrows();
  byId("layers-box").open = !isNarrow();
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(container);
  container.dataset.ready = "yes";
}
