/* What each tool answers: lines and shapes on the map, and the parts of the panel. */
const ENDINGS = {
  edge: "leaves the ground that was screened",
  leaves: "goes on beyond the ground that this page carries",
  gap: "ends where there is no elevation",
};

function makeAnswers(page) {
  const { units, traced } = page;
  const outside = () => [node("p", "lead", "This place is outside the ground that this page carries.")];

  async function cellUnder(at, isCurrent) {
    const ground = await page.openGround();
    if (!isCurrent()) { return {}; }
    traced.clearLayers();
    const cell = ground ? ground.cellAt(at) : -1;
    return { ground, cell: cell >= 0 && (ground.way[cell] & 15) !== WAY.unknown ? cell : -1 };
  }
  function lotsAlong(line) {
    const lots = page.layers.lots;
    const names = [];
    line.forEach((at) => {
      lots.features.forEach((lot) => { if (lot.g && !names.includes(lot.id) && isWithin(lot.g, at)) { names.push(lot.id); } });
    });
    return names;
  }

  page.answers.down = async ([at], isCurrent) => {
    const { ground, cell } = await cellUnder(at, isCurrent);
    if (!ground || cell < 0) { return outside(); }
    const depthOf = await page.openWater();
    if (!isCurrent()) { return []; }
    const way = followWater(ground, cell);
    const line = way.cells.map(ground.middleOf);
    page.drawTraced(line, { color: "#ffffff", weight: 9, opacity: 0.9 });
    page.drawTraced(line, { color: "#0b3f86", weight: 5, dashArray: "1 9", lineCap: "round" });
    const lots = lotsAlong(line);
    const rows = [["Way of the water", units.length(way.length)], ["Its end", ENDINGS[way.end]], ["Lots on its way", lots.join(", ") || "none"]];
    const chart = line.length > 1 ? profilePanel(page, profileAlong(ground, depthOf, line), page.markPlace) : [];
    page.say("Water runs " + units.length(way.length) + " from there, and " + ENDINGS[way.end]);
    return [numberList(rows), ...chart, geoJsonButton("flow_path", () => ({ type: "LineString", coordinates: line.map(positionOf) }), () => ({ length_m: Number(way.length.toFixed(2)), end: way.end }))];
  };

  page.answers.up = async ([at], isCurrent) => {
    const { ground, cell } = await cellUnder(at, isCurrent);
    if (!ground || cell < 0) { return outside(); }
    const found = catchmentOf(ground, cell);
    const rings = outlineOf(ground, found.isIn);
    traced.addLayer(L.polygon(rings, { pane: "traced_area", color: "#40284f", weight: 2.4, dashArray: "8 4", fillColor: "#8a6a9c", fillOpacity: 0.35, fillRule: "evenodd", interactive: false, smoothFactor: 0.3 }));
    page.markPlace(ground.middleOf(cell));
    const area = (found.mayBeMore ? "at least " : "") + units.format(found.area, "m2");
    const rows = [["Ground that drains here", area], ["Cells of it on the map", found.cells.toLocaleString("en-US")]];
    if (found.beyond > 0) { rows.push(["Of it beyond the ground shown", units.format(found.beyond, "m2")]); }
    rows.push(["Ground here", units.format(ground.elev(cell), "m")], ["Highest ground in it", units.format(ground.elev(found.highest), "m")]);
    const why = found.mayBeMore ? [node("p", "hint", "It is cut by the edge of the elevation, or by gaps in it: more ground may drain here.")] : [];
    page.say("Ground that drains here: " + area);
    return [numberList(rows), ...why, geoJsonButton("contributing_area", () => areaGeometry(rings), () => ({ area_m2: Number(found.area.toFixed(1)), is_lower_bound: found.mayBeMore }))];
  };

  page.answers.profile = async (places, isCurrent) => {
    const ground = await page.openGround();
    if (!ground || !isCurrent()) { return []; }
    const depthOf = await page.openWater();
    if (!isCurrent()) { return []; }
    drawPlaces(places, false);
    if (places.length < 2) { return [node("p", "", "Choose the next place.")]; }
    const points = profileAlong(ground, depthOf, places);
    page.say("Profile of " + units.length(points[points.length - 1].run) + " shown");
    return [...profilePanel(page, points, page.markPlace), lineButton("profile", places)];
  };

  page.answers.measure = async (places, isCurrent) => {
    const ground = await page.openGround();
    if (!isCurrent()) { return []; }
    const between = ground ? (a, b) => metresBetween(ground, a, b) : (a, b) => page.map.distance(a, b);
    drawPlaces(places, places.length > 2);
    if (places.length < 2) { return [node("p", "", "Choose the next place.")]; }
    const legs = places.slice(1).map((at, i) => between(places[i], at));
    const length = legs.reduce((sum, leg) => sum + leg, 0);
    const rows = [["Length", units.length(length)]];
    if (legs.length > 1) { rows.push(["Last part", units.length(legs[legs.length - 1])]); }
    if (ground) {
      const ends = [places[0], places[places.length - 1]].map((at) => groundAt(ground, at).elev);
      const fall = ends[0] - ends[1];
      if (!Number.isNaN(fall)) { rows.push(["Fall from first to last", units.format(fall, "m")]); }
      if (places.length > 2) {
        rows.push(["Area inside, last joined to first", units.format(areaInside(ground, places), "m2")], ["Length round it", units.length(length + between(places[places.length - 1], places[0]))]);
      }
    }
    page.say("Length " + rows[0][1]);
    return [numberList(rows), places.length > 2 ? areaButton(places) : lineButton("measured", places)];
  };

  function drawPlaces(places, isClosed) {
    traced.clearLayers();
    const line = isClosed ? [...places, places[0]] : places;
    page.drawTraced(line, { color: "#ffffff", weight: 7, opacity: 0.9 });
    page.drawTraced(line, { color: "#1a1a1a", weight: 3 });
    places.forEach((at) => traced.addLayer(L.circleMarker(at, { pane: "traced_line", radius: 5, color: "#1a1a1a", weight: 2, fillColor: "#ffffff", fillOpacity: 1, interactive: false })));
  }
  const lineButton = (name, places) => geoJsonButton(name, () => ({ type: "LineString", coordinates: places.map(positionOf) }), () => ({}));
  const areaButton = (places) => geoJsonButton("measured", () => areaGeometry([places]), () => ({}));
}

function areaInside(ground, places) {
  const points = places.map(ground.placeOf);
  const twice = points.reduce((sum, [x, y], i) => {
    const [nextX, nextY] = points[(i + 1) % points.length];
    return sum + x * nextY - nextX * y;
  }, 0);
  return (Math.abs(twice) / 2) * ground.cell * ground.cell;
}

const signedArea = (ring) => ring.reduce((sum, [x, y], i) => {
  const [nextX, nextY] = ring[(i + 1) % ring.length];
  return sum + x * nextY - nextX * y;
}, 0);
/* Rings of cells: those that run with the clock in degrees are outer, the others are holes in the one around them. */
function areaGeometry(rings) {
  const closed = rings.map((ring) => ring.map(positionOf)).map((ring) => [...ring, ring[0]]);
  if (closed.length === 1) { return { type: "Polygon", coordinates: [signedArea(closed[0]) < 0 ? closed[0].reverse() : closed[0]] }; }
  const outer = closed.filter((ring) => signedArea(ring) < 0).map((ring) => [ring]);
  closed.filter((ring) => signedArea(ring) >= 0).forEach((hole) => {
    const around = outer.filter(([ring]) => isInRing(ring, hole[0])).pop() || outer[0];
    around.push(hole);
  });
  return { type: "MultiPolygon", coordinates: outer.map((part) => part.map((ring) => ring.slice().reverse())) };
}
function isInRing(ring, [x, y]) {
  let inside = false;
  ring.forEach(([x1, y1], i) => {
    const [x2, y2] = ring[(i + 1) % ring.length];
    if ((y1 > y) !== (y2 > y) && x < ((x2 - x1) * (y - y1)) / (y2 - y1) + x1) { inside = !inside; }
  });
  return inside;
}
function isWithin(geometry, at) {
  const parts = geometry.type === "Polygon" ? [geometry.coordinates] : geometry.type === "MultiPolygon" ? geometry.coordinates : [];
  return parts.some((rings) => rings.reduce((inside, ring) => inside !== isInRing(ring, [at.lng, at.lat]), false));
}
