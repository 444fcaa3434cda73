/* Puts the parts of the page together. */
function screeningPage(map) {
  const data = JSON.parse(byId("screening-data").textContent);
  const page = { map, data, say: makeStatus(), units: makeUnits(data) };
  makeLayers(page);
  makeArrows(page);
  makeSwitches(page);
  makeStorms(page);
  makeGround(page);
  makeDetails(page);
  makeTools(page);
  makeAnswers(page);
  makeTable(page);
  makeFilter();
  makePrint(page);
  makeFrame(page);
}

/* Scale, north, first view. */
function makeFrame(page) {
  const { map, data, units } = page;
  const container = map.getContainer();
  let scale = null;
  const drawScale = () => {
    if (scale) { scale.remove(); }
    scale = L.control.scale({ metric: units.name === "metric", imperial: units.name === "us", maxWidth: 130 }).addTo(map);
  };
  drawScale();
  units.changed.push(drawScale);
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
  container.setAttribute("aria-label", "Map of the lots. Arrow keys move it, plus and minus zoom; with a tool on, Enter takes the place in the middle. The table of lots says the same in words.");
  map.fitBounds(data.view, { padding: [24, 24], animate: false });
  map.setMaxBounds(L.latLngBounds(data.images[0].bounds).extend(data.view).pad(1));
  page.applySwitches();
  page.reweigh();
  page.drawArrows();
  byId("layers-box").open = !isNarrow();
  new ResizeObserver(() => map.invalidateSize({ pan: false })).observe(container);
  container.dataset.ready = "yes";
}
