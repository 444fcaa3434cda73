"use strict";
/* Draws a site before and after improvements on one map. Text of the data reaches the page through textContent alone. */
(function trialPage() {
  const data = JSON.parse(document.getElementById("trial-data").textContent);
  const status = document.getElementById("status");
  const map = L.map("trial-map", { attributionControl: false, zoomSnap: 0.25, zoomDelta: 0.5, maxZoom: 23, fadeAnimation: false });
  const PANES = ["relief", "roads", "lots", "driveways", "low_spots", "water", "flow_paths", "drains", "barriers", "others", "structures", "flags", "improvements"];
  PANES.forEach((name, order) => { map.createPane(name).style.zIndex = 210 + 10 * order; });
  const WORK = "#5b1f6e";

  function node(text) {
    const made = document.createElement("span");
    made.dir = "auto";
    made.textContent = text;
    return made;
  }
  function picture(key, pane) {
    return L.imageOverlay(data.images[key].url, data.images[key].bounds, { pane: pane, alt: "", interactive: false });
  }
  function look(layer, feature, pane) {
    const style = layer.styles[feature.c];
    const isLine = style.shape === "line";
    return { pane: pane, color: style.color, weight: style.weight, dashArray: style.dash || null, fill: !isLine,
      fillColor: style.pattern ? "url(#" + style.pattern + ")" : style.fill || "#ffffff",
      fillOpacity: style.pattern ? 1 : style.fill_opacity || 0, smoothFactor: 0.5, noClip: isLine };
  }
  function say(shape, title, lines) {
    const box = document.createElement("div");
    const head = document.createElement("strong");
    head.append(node(title));
    box.append(head);
    lines.forEach((line) => { const row = document.createElement("div"); row.append(node(line)); box.append(row); });
    shape.bindPopup(box, { maxWidth: 320 });
  }
  function draw(key, layer) {
    const group = L.layerGroup();
    layer.features.forEach((feature) => {
      const shape = L.geoJSON({ type: "Feature", properties: {}, geometry: feature.g }, {
        pane: key, style: look(layer, feature, key),
        pointToLayer: (_, at) => L.circleMarker(at, Object.assign({ radius: 7 }, look(layer, feature, key))),
      });
      const title = (layer.noun + " " + feature.id).trim();
      const words = data.words[title.charAt(0).toLowerCase() + title.slice(1)] || [];
      say(shape, title, words.length ? words : [feature.c]);
      group.addLayer(shape);
    });
    return group;
  }

  const relief = picture("relief", "relief");
  const states = {};
  ["before", "after"].forEach((when) => {
    const layers = {};
    Object.keys(data[when]).forEach((key) => { layers[key] = draw(key, data[when][key]); });
    layers.water = picture("water_" + when, "water");
    states[when] = layers;
  });
  Object.keys(data.same).forEach((key) => draw(key, data.same[key]).addTo(map));

  const flags = L.layerGroup();
  data.lots.forEach((lot) => {
    L.geoJSON(lot.g, { pane: "lots", style: { pane: "lots", color: "#20262c", weight: 1.6, fill: false }, interactive: false }).addTo(map);
    if (lot.result === "the same") { return; }
    const more = lot.result === "more water";
    const color = more ? "#8c2b16" : "#245c2a";
    const shape = L.geoJSON(lot.g, { pane: "flags", style: { pane: "flags", color: color, weight: lot.red ? 4 : 2, dashArray: more ? null : "7 5",
      fill: lot.red, fillColor: color, fillOpacity: 0.1 }, interactive: lot.red });
    if (lot.red) {
      say(shape, "Lot " + lot.id, data.words["lot " + lot.id] || []);
      shape.bindTooltip(node(lot.id + ": more water"), { permanent: true, direction: "center", className: "more-water" });
    }
    flags.addLayer(shape);
  });

  const improvements = L.layerGroup();
  const places = {};
  data.improvements.forEach((work) => {
    L.geoJSON(work.g, { pane: "improvements", style: { pane: "improvements", color: "#ffffff", weight: 9, fill: false }, interactive: false,
      pointToLayer: (_, at) => L.circleMarker(at, { pane: "improvements", radius: 9, color: "#ffffff", weight: 6, fill: false, interactive: false }) }).addTo(improvements);
    const shape = L.geoJSON(work.g, { pane: "improvements", style: { pane: "improvements", color: WORK, weight: 5, fillColor: WORK, fillOpacity: 0.18 },
      pointToLayer: (_, at) => L.circleMarker(at, { pane: "improvements", radius: 8, color: WORK, weight: 3, fillColor: "#ffffff", fillOpacity: 1 }) });
    const lines = [work.words].concat(work.taken ? ["Takes " + work.taken + " in this storm"] : []).filter(Boolean);
    say(shape, work.kind + " " + work.id, lines);
    const isEnd = work.kind === "outlet" || work.kind === "storage";
    shape.bindTooltip(node((isEnd ? "" : work.kind + " ") + work.id + (work.taken ? ": " + work.taken : "")),
      { permanent: true, direction: isEnd ? "left" : "right", offset: [isEnd ? -12 : 12, 0], className: "work-name" });
    places[work.id] = shape.getBounds().getCenter();
    improvements.addLayer(shape);
  });
  data.improvements.forEach((work) => {
    if (work.to && places[work.to]) {
      improvements.addLayer(L.polyline([places[work.id], places[work.to]], { pane: "improvements", color: WORK, weight: 2.5, dashArray: "3 6", interactive: false }));
    }
  });

  const OFF_BY_SWITCH = { water: "water", flow_paths: "flow_paths" };
  function isOn(name) { return document.querySelector('[data-show="' + name + '"]').checked; }
  function put(layer, on) { if (layer) { if (on) { map.addLayer(layer); } else { map.removeLayer(layer); } } }
  function show(speaks) {
    const when = document.querySelector('input[name="when"]:checked').value;
    ["before", "after"].forEach((state) => {
      Object.keys(states[state]).forEach((key) => {
        put(states[state][key], state === when && (!OFF_BY_SWITCH[key] || isOn(key)));
      });
    });
    put(relief, isOn("relief"));
    put(improvements, isOn("improvements"));
    put(flags, when === "after");
    document.getElementById("trial-map").dataset.when = when;
    if (speaks) { status.textContent = when === "before" ? "As it is" : "With the improvements"; window.setTimeout(() => { status.textContent = ""; }, 4000); }
  }
  document.querySelectorAll('input[name="when"], [data-show]').forEach((box) => box.addEventListener("change", () => show(true)));
  document.getElementById("show-same").addEventListener("change", (event) => {
    document.getElementById("comparison-table").classList.toggle("all", event.target.checked);
  });
  L.control.scale({ metric: data.units === "metric", imperial: data.units === "us", maxWidth: 130 }).addTo(map);
  const view = L.latLngBounds(data.view);
  data.improvements.forEach((work) => view.extend(L.geoJSON(work.g).getBounds()));
  map.fitBounds(view, { padding: [24, 24], animate: false });
  show(false);
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(document.getElementById("trial-map"));
  document.getElementById("trial-map").dataset.ready = "yes";
})();
