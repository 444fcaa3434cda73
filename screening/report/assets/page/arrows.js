/* Arrows that point the way water goes, at an even spacing on the screen. */
function makeArrows(page) {
  const { map } = page;
  const flow = page.layers.flow_paths;
  page.groups.arrows = L.layerGroup();

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
    const corner = (along, across) => map.layerPointToLatLng(
      L.point(at.x + along * way.x - across * way.y, at.y + along * way.y + across * way.x));
    const corners = [corner(size, 0), corner(-size * 0.8, size * 0.75), corner(-size * 0.3, 0), corner(-size * 0.8, -size * 0.75)];
    page.groups.arrows.addLayer(L.polygon(corners,
      { pane: "flow_paths", color: "#ffffff", weight: 1, fillColor: "#0b3f86", fillOpacity: 1, interactive: false, smoothFactor: 0, noClip: true }));
  }
  page.drawArrows = () => {
    page.groups.arrows.clearLayers();
    if (!flow || !map.hasLayer(page.groups.flow_paths)) { return; }
    const seen = map.getPixelBounds();
    const origin = map.getPixelOrigin();
    let left = 600;
    flow.features.forEach((feature) => {
      if (!feature.g) { return; }
      const size = (4 + 1.6 * flow.styles[feature.c].weight) * (0.3 + 0.7 * page.thin());
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
  };
  map.on("moveend", page.drawArrows);
}
