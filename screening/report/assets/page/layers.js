/* Draws the layers of the page's data: each kind in its own pane, so that nothing is covered by chance. */
const PANES = [
  "basemap", "relief", "roads", "soils", "wetlands", "trees", "lots", "contributing_areas", "traced_area",
  "infiltration_zones", "driveways", "storm_water", "low_spots", "flow_casing", "flow_paths", "overflow_paths",
  "collection_routes", "drains", "barriers", "others", "structures", "structure_sides", "driveway_edges",
  "driveway_arrows", "driveway_low_points", "interception_lines", "drain_outlets", "utilities", "septic", "wells",
  "collection_points", "inflow_points", "doors", "chosen", "traced_line",
];

function makeLayers(page) {
  const { map, data } = page;
  const weighted = [];
  let thin = 1;
  page.layers = {};
  page.groups = {};
  data.layers.forEach((layer) => { page.layers[layer.key] = layer; });
  /* A kind that the list does not know lies over the terrain and under the lots' findings, and never nowhere. */
  const unknown = data.layers.map((layer) => layer.key).filter((key) => !PANES.includes(key));
  const panes = [...PANES.slice(0, 2), ...unknown, ...PANES.slice(2)];
  panes.forEach((name, order) => { map.createPane(name).style.zIndex = 210 + 10 * order; });
  ["chosen", "traced_line", "traced_area"].forEach((name) => map.getPane(name).classList.add("no-hit"));
  page.nameOf = (layer, feature) => (feature.id ? layer.noun + " " + feature.id : layer.noun);

  data.images.forEach((picture) => {
    page.groups[picture.key] = page.groups[picture.key] || L.layerGroup();
    picture.overlay = L.imageOverlay(picture.url, picture.bounds, { pane: picture.key, alt: "", interactive: false });
    page.groups[picture.key].addLayer(picture.overlay);
  });

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
      const under = layer.key === "flow_paths" ? "flow_casing" : layer.key;
      geo({ pane: under, color: "#ffffff", weight: style.weight + 2.2, opacity: 0.75, fill: false, dashArray: null, interactive: false }, true);
    }
    if (isLine) {
      geo({ interactive: false }, true);
      geo({ weight: 18, opacity: 0, dashArray: null }, false);
    } else {
      geo({}, true);
    }
    const target = made[made.length - 1];
    target.on("click", (event) => {
      /* A tool asks for a place: then the click is the map's. */
      if (page.tool) { return; }
      L.DomEvent.stop(event);
      page.choose(layer.key, index, false);
    });
    target.bindTooltip(node("span", "", page.nameOf(layer, feature)), { sticky: true, className: "plain-tip" });
    feature.shape = target;
    return made;
  }
  function addName(group, feature, className, text) {
    if (!feature.shape) { return; }
    const box = feature.shape.getBounds();
    const at = [box.getNorth() - 0.12 * (box.getNorth() - box.getSouth()), box.getCenter().lng];
    const tip = L.tooltip({ permanent: true, direction: "center", className: className, pane: "tooltipPane", interactive: false });
    group.addLayer(tip.setLatLng(at).setContent(node("span", "", text)));
  }
  data.layers.forEach((layer) => {
    const group = page.groups[layer.key] = page.groups[layer.key] || L.layerGroup();
    layer.features.forEach((feature, index) => {
      if (!feature.g) { return; }
      const made = drawFeature(layer, feature, index);
      if (layer.key !== "contributing_areas") { made.forEach((part) => group.addLayer(part)); }
      if (layer.key === "lots" && layer.features.length > 1) { addName(group, feature, "lot-name", feature.id); }
      if (layer.key === "soils") { addName(group, feature, "lot-name soil-name", feature.id); }
    });
  });
  /* From afar the numbers of the list stand on their lots, in place of names. */
  if (data.ranks.length > 1) {
    data.ranks.forEach(([index, rank]) => addName(page.groups.lots, page.layers.lots.features[index], "rank-mark", String(rank)));
  }
  page.groups.chosen = L.layerGroup().addTo(map);

  /* Lines grow with the map, so that neither a whole street nor one wall drowns in them. */
  page.thin = () => thin;
  page.reweigh = () => {
    const now = Math.min(1, Math.max(0.4, Math.pow(2, (map.getZoom() - 19) / 2)));
    map.getContainer().classList.toggle("far", map.getZoom() < 18.5);
    if (now === thin) { return; }
    thin = now;
    weighted.forEach(([shape, weight]) => {
      shape.setStyle({ weight: weight * thin });
      shape.eachLayer((part) => { if (part.setRadius) { part.setRadius(3 + 6 * thin); } });
    });
  };
  map.on("zoomend", page.reweigh);
}
