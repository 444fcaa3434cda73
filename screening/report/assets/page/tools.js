/* Tools that ask the map for a place: by a click, by Enter at the cross in its middle, or by typed degrees. */
const TOOLS = {
  down: { title: "Where water goes", ask: "Choose a place: the line shows where its water runs, over full low spots and round buildings.", isLine: false },
  up: { title: "What drains here", ask: "Choose a place: shaded is the ground whose water runs through it.", isLine: false },
  profile: { title: "Profile along a line", ask: "Choose two or more places: below is the ground between them.", isLine: true },
  measure: { title: "Measure", ask: "Choose two places for a length, three or more for an area.", isLine: true },
};

function makeTools(page) {
  const { map, say } = page;
  const container = map.getContainer();
  const traced = L.layerGroup().addTo(map);
  const pointer = L.circleMarker([0, 0], { pane: "traced_line", radius: 7, color: "#1a1a1a", weight: 2, fillColor: "#ffe14d", fillOpacity: 1, interactive: false });
  let places = [];
  let asked = 0;
  page.tool = "";
  page.traced = traced;
  page.markPlace = (at) => { pointer.setLatLng(at); if (!traced.hasLayer(pointer)) { traced.addLayer(pointer); } };
  page.drawTraced = (line, options) => traced.addLayer(L.polyline(line, Object.assign({ pane: "traced_line", interactive: false, smoothFactor: 0.5 }, options)));

  function press() {
    document.querySelectorAll("[data-tool]").forEach((choice) => choice.setAttribute("aria-pressed", String(choice.dataset.tool === page.tool)));
    container.classList.toggle("asking", page.tool !== "");
  }
  page.leaveTool = () => {
    page.tool = "";
    places = [];
    asked += 1;
    traced.clearLayers();
    press();
  };
  page.startTool = (key) => {
    page.leaveTool();
    page.closePanel();
    page.tool = key;
    press();
    show([]);
    if (isNarrow()) { container.scrollIntoView({ block: "start", behavior: "instant" }); }
    say(TOOLS[key].ask);
  };
  function controls() {
    const row = node("div", "near");
    row.append(button("Middle of the map", () => use(map.getCenter())));
    if (TOOLS[page.tool].isLine && places.length) {
      row.append(button("Undo", () => { places.pop(); answer(); }));
    }
    if (places.length) { row.append(button("Start again", () => page.startTool(page.tool))); }
    return row;
  }
  function typed() {
    const box = node("div", "typed");
    const label = node("label", "", "Latitude, longitude ");
    const field = document.createElement("input");
    Object.assign(field, { type: "text", inputMode: "text", autocomplete: "off", placeholder: map.getCenter().lat.toFixed(5) + ", " + map.getCenter().lng.toFixed(5) });
    label.append(field);
    const take = () => {
      const parts = field.value.split(/[,;\s]+/).filter(Boolean).map(Number);
      if (parts.length !== 2 || parts.some(Number.isNaN) || Math.abs(parts[0]) > 90 || Math.abs(parts[1]) > 180) {
        say("Give latitude and longitude in degrees, such as " + field.placeholder);
        return;
      }
      use(L.latLng(parts[0], parts[1]));
    };
    field.addEventListener("keydown", (event) => { if (event.key === "Enter") { take(); } });
    box.append(label, button("Use", take));
    return box;
  }
  function show(parts) {
    const tool = TOOLS[page.tool];
    page.showPanel(tool.title, [...(parts.length ? parts : [node("p", "", tool.ask)]), controls(), typed()]);
    byId("detail-body").dataset.places = places.length;
  }
  function use(at) {
    if (!page.tool) { return; }
    places = TOOLS[page.tool].isLine ? [...places, at] : [at];
    answer();
  }
  async function answer() {
    const key = page.tool;
    asked += 1;
    const number = asked;
    const parts = places.length ? await page.answers[key](places, () => number === asked) : [];
    /* Another question may have been asked, or the tool left, while the ground was unpacked. */
    if (number !== asked || page.tool !== key) { return; }
    show(parts);
  }
  const again = () => { if (page.tool && places.length) { answer(); } };
  page.stormChanged.push(again);
  page.units.changed.push(again);
  page.answers = {};
  page.useInstead = use;

  map.on("click", (event) => use(event.latlng));
  container.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && page.tool && event.target === container) { event.preventDefault(); use(map.getCenter()); }
  });
  document.querySelectorAll("[data-tool]").forEach((choice) => {
    choice.addEventListener("click", () => {
      if (page.tool === choice.dataset.tool) { page.leaveTool(); page.closePanel(); } else { page.startTool(choice.dataset.tool); }
    });
  });
}

/* GeoJSON (RFC 7946): longitude before latitude, rings counter-clockwise outside. */
function geoJsonButton(name, geometry, properties) {
  return button("Save as GeoJSON", () => {
    const feature = { type: "Feature", properties: properties(), geometry: geometry() };
    saveFile(name + ".geojson", "application/geo+json", JSON.stringify({ type: "FeatureCollection", features: [feature] }));
  }, "save");
}
const positionOf = (at) => [Number(at.lng.toFixed(7)), Number(at.lat.toFixed(7))];
