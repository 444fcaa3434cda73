/* Switches of layers, and the online base map that is off until the reader asks for it. */
function makeSwitches(page) {
  const { map, data, groups, say } = page;
  const escape = (text) => text.replace(/[&<>"']/g, (mark) => "&#" + mark.charCodeAt(0) + ";");
  const credit = L.control.attribution({ prefix: false }).addTo(map);
  credit.addAttribution(escape(data.tagline));

  page.setLayer = (key, on) => {
    if (!groups[key]) { return; }
    if (on) { map.addLayer(groups[key]); } else { map.removeLayer(groups[key]); }
    if (key === "flow_paths") {
      if (on) { map.addLayer(groups.arrows); page.drawArrows(); } else { map.removeLayer(groups.arrows); }
    }
  };
  if (data.basemap) {
    groups.basemap = L.tileLayer(data.basemap.url, { pane: "basemap", maxNativeZoom: 19, maxZoom: 23, referrerPolicy: "no-referrer" });
    let failed = false;
    groups.basemap.on("tileerror", () => {
      if (!failed) { failed = true; say("The online base map did not load. All else on this page works without it.", true); }
    });
    groups.basemap.on("add remove", (event) => {
      failed = false;
      map.getPane("relief").style.opacity = event.type === "add" ? "0.5" : "";
      credit[event.type === "add" ? "addAttribution" : "removeAttribution"](escape(data.basemap.attribution));
    });
  }
  const boxes = Array.from(document.querySelectorAll("[data-switch]"));
  /* The printed legend shows what the printed map shows. */
  const mark = (box) => box.closest("fieldset").classList.toggle("is-off", !box.checked);
  boxes.forEach((box) => {
    box.addEventListener("change", () => {
      page.setLayer(box.dataset.switch, box.checked);
      mark(box);
      say(box.parentElement.textContent.trim() + (box.checked ? ": shown" : ": hidden"));
    });
  });
  page.applySwitches = () => boxes.forEach((box) => { page.setLayer(box.dataset.switch, box.checked); mark(box); });
}
