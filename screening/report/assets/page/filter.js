/* Filters the table of lots, and links it with the map both ways: any place of a row chooses its lot, a lot that is
   chosen brings its row into view, and lots that are filtered away fade on the map. */
function makeFilter(page) {
  const table = byId("lots-table");
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  const heads = Array.from(table.querySelectorAll("thead .sort"), (head) => head.firstChild.textContent.trim());
  const textOf = (row, label) => (heads.includes(label) ? row.cells[heads.indexOf(label)].textContent.trim() : "");

  function field(tag, id, label) {
    const made = node(tag);
    made.id = id;
    made.setAttribute("aria-label", label);
    return made;
  }
  function labelled(...parts) {
    const label = node("label");
    label.append(...parts);
    return label;
  }
  const words = field("input", "table-words", "Filter by words");
  words.type = "search";
  const exposure = field("select", "table-exposure", "Exposure");
  exposure.append(new Option("any", ""));
  Array.from(new Set(rows.map((row) => textOf(row, "Exposure")))).filter(Boolean).sort()
    .forEach((value) => exposure.append(new Option(value, value)));
  const flagged = field("input", "table-flagged", "flagged lots only");
  flagged.type = "checkbox";
  const count = node("output");
  count.id = "table-count";
  count.setAttribute("aria-live", "polite");
  const box = node("div", "table-filter");
  box.setAttribute("role", "search");
  box.setAttribute("aria-label", "Filter of the table");
  box.append(labelled("Filter by words", words), labelled("Exposure", exposure), labelled(flagged, "flagged lots only"),
    button("Show all", showAll), count);
  table.parentElement.before(box);

  function fits(row) {
    const wanted = words.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
    const text = row.textContent.toLocaleLowerCase();
    return wanted.every((word) => text.includes(word))
      && (!exposure.value || textOf(row, "Exposure") === exposure.value)
      && (!flagged.checked || Number(textOf(row, "Flags")) > 0);
  }
  function fade(row) {
    const lot = page.layers.lots.features[Number(row.querySelector(".go").dataset.index)];
    if (lot.shape) { lot.shape.setStyle({ fillColor: "#ffffff", fillOpacity: row.hidden ? 0.75 : 0 }); }
  }
  function filter() {
    rows.forEach((row) => {
      const hidden = !fits(row);
      if (hidden !== row.hidden) { row.hidden = hidden; fade(row); }
    });
    tell();
  }
  function tell() {
    const n = rows.filter((row) => !row.hidden).length;
    count.textContent = n === rows.length ? "" : n + " of " + rows.length + " lots";
  }
  function showAll() { words.value = ""; exposure.value = ""; flagged.checked = false; filter(); }
  words.addEventListener("input", filter);
  exposure.addEventListener("change", filter);
  flagged.addEventListener("change", filter);

  body.addEventListener("click", (event) => {
    const row = event.target.closest("tr");
    if (row && !event.target.closest("button") && !String(window.getSelection())) { row.querySelector(".go").click(); }
  });
  /* The panel marks the row of a chosen lot; only the table scrolls to it, never the page. */
  function reveal(row) {
    if (row.hidden) { row.hidden = false; fade(row); tell(); }
    const scroll = table.parentElement;
    const [seen, at] = [scroll.getBoundingClientRect(), row.getBoundingClientRect()];
    if (at.top < seen.top || at.bottom > seen.bottom) { scroll.scrollTop += at.top - seen.top - seen.height / 3; }
  }
  new MutationObserver((changes) => changes.forEach((change) => {
    if (change.target.classList.contains("chosen")) { reveal(change.target); }
  })).observe(body, { attributes: true, attributeFilter: ["class"], subtree: true });
}
