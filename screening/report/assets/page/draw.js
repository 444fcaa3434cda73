/* Draws proposed works, and driveways to study, asks for their numbers, and saves the files that the commands read. */
function screeningDraw(map, form) {
  const container = map.getContainer();
  const COLOR = "#5b1f6e";
  const drawn = [];
  const shapes = L.layerGroup().addTo(map);
  map.createPane("drawn").style.zIndex = 640;
  let corners = null;
  let draft = null;
  let awaited = null; /* the drain that waits for its outlet */
  let pressed = null;
  let more = null; /* where the numbers go that may be left out, if they are many */

  function node(tag, className, text) {
    const made = document.createElement(tag);
    if (className) { made.className = className; }
    if (text !== undefined) { made.textContent = text; }
    return made;
  }
  function button(text, action) {
    const made = node("button", "", text);
    made.type = "button";
    made.addEventListener("click", action);
    return made;
  }
  function labelled(text, ...parts) {
    const label = node("label", "", text);
    const pair = node("span", "pair");
    pair.append(...parts);
    label.append(pair);
    return label;
  }
  function select(values, texts) {
    const made = node("select");
    values.forEach((value, i) => {
      const option = node("option", "", texts ? texts[i] : value);
      option.value = value;
      made.append(option);
    });
    return made;
  }

  /* The panel */
  const opener = button("Draw works", () => setOpen(panel.hidden));
  opener.className = "draw-open";
  opener.setAttribute("aria-expanded", "false");
  const corner = L.control({ position: "bottomright" });
  corner.onAdd = () => { L.DomEvent.disableClickPropagation(opener); return opener; };
  corner.addTo(map);
  const panel = node("section", "draw-panel");
  panel.hidden = true;
  panel.setAttribute("aria-label", "Draw works");
  L.DomEvent.disableClickPropagation(panel);
  L.DomEvent.disableScrollPropagation(panel);
  const kinds = select(form.kinds.map((kind) => kind.kind), form.kinds.map((kind) => kind.label));
  kinds.id = "draw-kind";
  const fields = node("div", "fields");
  const say = node("p", "say");
  say.setAttribute("role", "status");
  const list = node("ul");
  const start = button("Draw on the map", begin);
  const finish = button("Finish", end);
  const middle = button("Add the middle of the map", () => add(map.getCenter()));
  const cancel = button("Cancel", () => stop("Nothing was drawn."));
  const save = button("Save " + form.file, saveWorks);
  const saveDrives = button("Save " + form.driveways_file, saveDriveways);
  const row = node("div", "row");
  row.append(start, finish, middle, cancel);
  const head = node("div", "row");
  head.append(node("h2", "", "Draw works"), button("Close", () => setOpen(false)));
  const kindLabel = labelled("What", kinds);
  const last = node("div", "row saving");
  last.append(save, saveDrives);
  panel.append(head, kindLabel, fields, row, say, list, last);
  container.append(panel);
  kinds.addEventListener("change", showFields);

  function setOpen(open) {
    panel.hidden = !open;
    opener.setAttribute("aria-expanded", String(open));
    if (open) { kinds.focus(); } else if (corners) { stop(""); }
    if (!open) { opener.focus(); }
  }
  function tell(text, isWrong) {
    say.textContent = text;
    say.classList.toggle("wrong", Boolean(isWrong));
  }
  function chosen() { return form.kinds.find((kind) => kind.kind === kinds.value); }
  function ends() { return drawn.filter((work) => work.properties.kind === "outlet" || work.properties.kind === "storage"); }
  function showFields() {
    const kind = chosen();
    fields.replaceChildren();
    more = null;
    if (kind.shapes.length > 1) { field("shape", "Drawn as", select(kind.shapes)); }
    if (kind.leads) { addLeads(kind); }
    if (kind.numbers.length + kind.choices.length > 4) {
      more = node("details");
      more.append(node("summary", "", "Its dimensions and use, if known"));
      fields.append(more);
    }
    kind.numbers.forEach((number, i) => {
      const input = node("input");
      input.inputMode = "decimal";
      input.dataset.number = String(i);
      input.id = "draw-" + number.names[0][0];
      const unit = select(number.names.map((name) => name[0]), number.names.map((name) => name[1]));
      unit.setAttribute("aria-label", "Unit of " + number.label);
      (number.is_needed ? fields : more || fields).append(labelled(number.label + (number.is_needed ? " (needed)" : ""), input, unit));
    });
    if (kind.has_structure) { field("structure_id", "Structure (id on the map)", node("input")); }
    kind.choices.forEach(([name, label, values]) => field(name, label, select(["", ...values], ["not known", ...values])));
    setBusy(false);
  }
  function addLeads(kind) {
    const there = ends().map((work) => work.properties.id);
    const needsPlace = kind.kind === "trench_drain";
    const first = needsPlace ? ["next"] : [""];
    const words = needsPlace ? ["an outlet, placed next"] : ["the ground where it is drawn to"];
    field("to", "Its water goes to", select([...first, "off", ...there], [...words, "taken off the ground", ...there]));
  }
  function field(name, label, input) {
    input.dataset.name = name;
    input.id = "draw-" + name;
    (more || fields).append(labelled(label, input));
  }
  function valueOf(name) {
    const input = fields.querySelector('[data-name="' + name + '"]');
    return input ? input.value.trim() : "";
  }
  function properties() {
    const kind = chosen();
    const found = { id: nextId(), kind: kind.kind };
    const wrong = kind.numbers.map((number, i) => {
      const input = fields.querySelector('[data-number="' + i + '"]');
      const name = input.parentElement.querySelector("select").value;
      const text = input.value.trim().replace(",", ".");
      if (text === "") { return number.is_needed ? number.label + " is needed." : ""; }
      const value = Number(text);
      const [low, high] = number.limits[name];
      if (!Number.isFinite(value)) { return number.label + " is no number."; }
      if (value < low * (1 - 1e-9) || value > high * (1 + 1e-9)) {
        return number.label + " has to be from " + Number(low.toPrecision(3)) + " to " + Number(high.toPrecision(3)) + ".";
      }
      found[name] = value;
      return "";
    }).find(Boolean);
    if (kind.kind === "regrade" && !wrong) {
      const names = Object.keys(found);
      const slopes = found.slope_pct > 0;
      if (!names.some((name) => name.startsWith("elev_")) && !slopes) { return "Give a level or a slope."; }
      if (slopes && found.falls_toward_deg === undefined) { return "Say which way it falls."; }
    }
    ["structure_id", "to", ...kind.choices.map((choice) => choice[0])].forEach((name) => {
      const value = valueOf(name);
      if (value && value !== "next") { found[name] = value; }
    });
    return wrong || found;
  }
  function nextId() {
    const prefix = chosen().kind === "driveway" ? "D-" : "W-";
    let number = 1;
    while (drawn.some((work) => work.properties.id === prefix + number)) { number += 1; }
    return prefix + number;
  }

  /* Drawing */
  function setBusy(busy) {
    start.hidden = busy;
    [finish, middle, cancel].forEach((each) => { each.hidden = !busy; });
    kinds.disabled = busy;
    container.classList.toggle("drawing", busy);
    panel.classList.toggle("busy", busy);
    map.doubleClickZoom[busy ? "disable" : "enable"]();
  }
  function begin() {
    const found = properties();
    if (typeof found === "string") { tell(found, true); return; }
    const kind = chosen();
    const shape = kind.shapes.length > 1 ? valueOf("shape") : kind.shapes[0];
    startShape(found, shape, valueOf("to") === "next");
    tell(shape === "point" ? "Click its place." : "Click its corners one by one, then Finish or double-click.");
  }
  function startShape(found, shape, asksOutlet) {
    corners = [];
    draft = { properties: found, shape: shape, asksOutlet: asksOutlet, trace: L.layerGroup().addTo(map) };
    setBusy(true);
    finish.hidden = shape === "point";
  }
  function add(at) {
    if (!corners) { return; }
    const before = corners[corners.length - 1];
    if (before && map.latLngToLayerPoint(before).distanceTo(map.latLngToLayerPoint(at)) < 2) { return; }
    corners.push(at);
    if (draft.shape === "point") { end(); return; }
    draft.trace.clearLayers();
    const options = { pane: "drawn", color: COLOR, weight: 4, dashArray: "6 5", interactive: false };
    draft.trace.addLayer(draft.shape === "polygon" ? L.polygon(corners, options) : L.polyline(corners, options));
    corners.forEach((place) => draft.trace.addLayer(L.circleMarker(place, { pane: "drawn", radius: 5, color: COLOR, fillColor: "#ffffff", fillOpacity: 1, interactive: false })));
    tell(corners.length + (corners.length === 1 ? " corner" : " corners"));
  }
  function end() {
    const least = { point: 1, line: 2, polygon: 3 }[draft.shape];
    if (corners.length < least) { tell("It needs " + least + " corners.", true); return; }
    const work = { properties: draft.properties, geometry: geometryOf(draft.shape, corners) };
    const asksOutlet = draft.asksOutlet;
    draft.trace.remove();
    corners = draft = null;
    drawn.push(work);
    if (awaited) { awaited.properties.to = work.properties.id; awaited = null; }
    setBusy(false);
    if (asksOutlet) {
      awaited = work;
      startShape({ id: nextId(), kind: "outlet" }, "point", false);
      tell("Now click where its water comes out, on lower ground.");
    } else {
      tell("Drawn. Save when all are there.");
      showFields();
    }
    redraw();
  }
  function stop(text) {
    if (draft) { draft.trace.remove(); }
    corners = draft = null;
    if (awaited) { drawn.splice(drawn.indexOf(awaited), 1); awaited = null; }
    setBusy(false);
    tell(text);
    redraw();
  }
  function geometryOf(shape, places) {
    const way = places.map((at) => [Number(at.lng.toFixed(8)), Number(at.lat.toFixed(8))]);
    if (shape === "point") { return { type: "Point", coordinates: way[0] }; }
    if (shape === "line") { return { type: "LineString", coordinates: way }; }
    const turn = way.reduce((sum, [x, y], i) => { const [u, v] = way[(i + 1) % way.length]; return sum + (u - x) * (v + y - 2 * way[0][1]); }, 0);
    if (turn > 0) { way.reverse(); }
    return { type: "Polygon", coordinates: [[...way, way[0]]] };
  }
  /* Clicks are caught before the map's own shapes see them; a drag of the map is no click. */
  container.addEventListener("mousedown", (event) => { pressed = [event.clientX, event.clientY]; }, true);
  container.addEventListener("click", (event) => {
    if (!corners || event.target.closest(".draw-panel, .leaflet-control")) { return; }
    event.stopPropagation();
    event.preventDefault();
    const moved = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) > 5;
    if (!moved) { add(map.mouseEventToLatLng(event)); }
  }, true);
  container.addEventListener("dblclick", (event) => {
    if (!corners || event.target.closest(".draw-panel, .leaflet-control")) { return; }
    event.stopPropagation();
    if (draft.shape !== "point") { end(); }
  }, true);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || panel.hidden) { return; }
    event.stopImmediatePropagation();
    if (corners) { stop("Nothing was drawn."); } else { setOpen(false); }
  }, true);

  /* What is drawn, and the file */
  function redraw() {
    shapes.clearLayers();
    list.replaceChildren();
    drawn.forEach((work) => {
      const name = form.kinds.find((kind) => kind.kind === work.properties.kind).label + " " + work.properties.id;
      const options = { pane: "drawn", color: COLOR, weight: 4, fillOpacity: 0.15, interactive: false };
      const shape = L.geoJSON(work.geometry, { pane: "drawn", style: options, interactive: false,
        pointToLayer: (_, at) => L.circleMarker(at, Object.assign({ radius: 7 }, options)) });
      shape.bindTooltip(node("span", "", work.properties.id), { permanent: true, direction: "right", className: "drawn-name" });
      shapes.addLayer(shape);
      const item = node("li");
      item.append(node("span", "", name), button("Remove", () => { remove(work); }));
      list.append(item);
    });
    save.disabled = !drawn.some(isWork);
    saveDrives.hidden = drawn.every(isWork);
  }
  function remove(work) {
    drawn.splice(drawn.indexOf(work), 1);
    drawn.forEach((other) => { if (other.properties.to === work.properties.id) { delete other.properties.to; } });
    redraw();
    showFields();
  }
  function isWork(work) { return work.properties.kind !== "driveway"; }
  function saveWorks() {
    const lost = drawn.find((work) => work.properties.kind === "trench_drain" && !work.properties.to);
    if (lost) { tell(lost.properties.id + " leads nowhere: remove it and draw it again with its outlet.", true); return; }
    saveFile(form.file, drawn.filter(isWork).map((work) => [work.properties, work.geometry]));
    tell("Saved. Give the file to the command: screening site ... --works " + form.file);
  }
  function saveDriveways() {
    const drives = drawn.filter((work) => !isWork(work));
    saveFile(form.driveways_file, drives.map((drive) => [{ driveway_id: drive.properties.id }, drive.geometry]));
    tell("Saved. Give the file to the command: screening driveway ... --driveways " + form.driveways_file);
  }
  function saveFile(name, pairs) {
    const features = pairs.map(([properties, geometry]) => ({ type: "Feature", properties, geometry }));
    const text = JSON.stringify({ type: "FeatureCollection", features: features }, null, 1);
    const link = node("a");
    link.href = URL.createObjectURL(new Blob([text + "\n"], { type: "application/geo+json" }));
    link.download = name;
    link.click();
    window.setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
  showFields();
  redraw();
}
