/* The panel beside the map: numbers and reasons of what is chosen, and what a tool has found. */
function makeDetails(page) {
  const { map, data, layers, groups, units, say } = page;
  let opener = null;
  let chosen = null;
  const body = byId("detail-body");

  /* One panel for all: what is shown last replaces what was there. */
  page.showPanel = (title, parts) => {
    byId("detail-title").textContent = title;
    body.replaceChildren(...parts);
    body.scrollTop = 0;
    byId("detail").hidden = false;
    byId("detail").closest(".side").scrollTop = 0;
  };
  page.closePanel = () => {
    byId("detail").hidden = true;
    groups.chosen.clearLayers();
    groups.contributing_areas.clearLayers();
    document.querySelectorAll("tr.chosen").forEach((row) => row.classList.remove("chosen"));
    chosen = null;
  };

  function verdictList(layer, feature) {
    const list = node("ul", "verdicts");
    feature.d.forEach((number) => {
      const [mark, words, subject, compared, background] = data.verdicts[number];
      const isOwn = subject === page.nameOf(layer, feature);
      if (!isOwn && mark === "passed") { return; }
      const item = node("li");
      const told = units.tell(compared);
      item.append(node("span", "mark " + mark.replace(" ", "-"), words), " ", node("bdi", "", isOwn ? told : subject + ": " + told));
      if (isOwn) { item.append(node("span", "source", units.tell(background))); }
      list.append(item);
    });
    return list.children.length ? [node("h3", "", "Checks"), list] : [];
  }
  function findingAt(layer) {
    const label = { lots: "Main finding", structures: "Why" }[layer.key];
    return label ? layer.columns.findIndex((column) => column[0] === label) : -1;
  }
  function numbersOf(layer, feature, index) {
    const rows = [];
    layer.columns.forEach(([label, meaning], column) => {
      const text = units.tell(page.valueOf(layer, index, column));
      if (text === "" || (column === 0 && text === feature.id) || column === findingAt(layer)) { return; }
      rows.push([label, text, meaning]);
    });
    return rows.length ? [node("h3", "", "Numbers"), numberList(rows)] : [];
  }
  function nearOf(layer, feature) {
    const box = node("div", "near");
    feature.to.forEach(([key, index]) => {
      const other = layers[key] && layers[key].features[index];
      if (!other || key === "contributing_areas") { return; }
      box.append(button(page.nameOf(layers[key], other), () => page.choose(key, index, true)));
    });
    return box.children.length ? [node("h3", "", layer.key === "lots" ? "On this lot" : "See also"), box] : [];
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
  function markRow(lot) {
    document.querySelectorAll("tr.chosen").forEach((row) => row.classList.remove("chosen"));
    const row = lot >= 0 && document.querySelector('#lots-table [data-layer="lots"][data-index="' + lot + '"]');
    if (row) { row.closest("tr").classList.add("chosen"); }
  }
  function goTo(feature) {
    map.getContainer().scrollIntoView({ block: isNarrow() ? "start" : "nearest", behavior: "instant" });
    if (!feature.shape) { say("This has no place on the map."); return; }
    const below = isNarrow() ? Math.max(20, map.getSize().y - window.innerHeight * 0.5) : 40;
    map.fitBounds(feature.shape.getBounds(), { maxZoom: 20.5, paddingTopLeft: [60, 40], paddingBottomRight: [40, below], animate: !isCalm });
  }
  function fill(key, index) {
    const layer = layers[key];
    const feature = layer.features[index];
    const finding = units.tell(feature.v[findingAt(layer)]);
    page.showPanel(page.nameOf(layer, feature), [
      ...(finding ? [node("p", "lead", finding)] : []),
      ...verdictList(layer, feature), ...numbersOf(layer, feature, index), ...nearOf(layer, feature),
    ]);
  }
  page.choose = (key, index, moves) => {
    page.leaveTool();
    chosen = [key, index];
    fill(key, index);
    const feature = layers[key].features[index];
    const lot = lotOf(key, index);
    outline(feature);
    showContributing(lot);
    markRow(lot);
    if (moves) { goTo(feature); byId("detail-title").focus({ preventScroll: !isNarrow() }); }
    say(page.nameOf(layers[key], feature) + ": details shown");
  };
  page.refill = () => { if (chosen) { fill(...chosen); } };
  units.changed.push(page.refill);

  function closeByHand() {
    page.leaveTool();
    page.closePanel();
    if (opener) { opener.focus(); }
  }
  byId("detail-close").addEventListener("click", closeByHand);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !byId("detail").hidden) { closeByHand(); }
  });
  document.querySelectorAll(".go").forEach((link) => {
    link.addEventListener("click", () => { opener = link; page.choose(link.dataset.layer, Number(link.dataset.index), true); });
  });
}
