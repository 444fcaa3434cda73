/* Paper: one page with the title, the map as it stands, the first findings, the legend of what is shown, the caution. */
function makePrint(page) {
  const { map } = page;
  let before = null;
  window.addEventListener("beforeprint", () => {
    before = map.getBounds();
    document.body.classList.add("on-paper");
    map.invalidateSize({ pan: false, animate: false });
    const lots = L.latLngBounds(page.data.view);
    map.fitBounds(before.contains(lots) ? lots : before, { animate: false, padding: [16, 16] });
  });
  window.addEventListener("afterprint", () => {
    document.body.classList.remove("on-paper");
    map.invalidateSize({ pan: false, animate: false });
    if (before) { map.fitBounds(before, { animate: false }); }
    before = null;
  });
  byId("print").addEventListener("click", () => window.print());
}
