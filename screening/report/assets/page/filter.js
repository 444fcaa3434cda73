/* Filters the table of lots, and links it with the map both ways: a row chooses its lot, a lot shows its row.
   It knows the map only by the buttons of the table and the rows that the page marks as chosen. */
function makeFilter() {
  const table = document.getElementById("lots-table");
  if (!table) { return; }
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  const heads = Array.from(table.querySelectorAll("thead .sort"), (head) => head.firstChild.textContent.trim());
  const columnOf = (label) => heads.indexOf(label);
  const textOf = (row, label) => (columnOf(label) < 0 ? "" : row.cells[columnOf(label)].textContent.trim());

  function node(tag, name, text) {
    const made = document.createElement(tag);
    if (name) { made.className = name; }
    if (text) { made.textContent = text; }
    return made;
  }
  function labelled(text, control) {
    const label = node("label");
    label.append(text, control);
    return label;
  }

  const box = node("div", "table-filter");
  const words = node("input");
  words.type = "search";
  words.id = "table-words";
  const exposure = node("select");
  exposure.id = "table-exposure";
  exposure.setAttribute("aria-label", "Exposure");
  exposure.append(new Option("any", ""));
  Array.from(new Set(rows.map((row) => textOf(row, "Exposure")))).filter(Boolean).sort()
    .forEach((value) => exposure.append(new Option(value, value)));
  const flagged = node("input");
  flagged.type = "checkbox";
  flagged.id = "table-flagged";
  const clear = node("button", "", "Show all");
  clear.type = "button";
  const count = node("output");
  count.id = "table-count";
  count.setAttribute("aria-live", "polite");
  box.setAttribute("role", "search");
  box.setAttribute("aria-label", "Filter of the table");
  box.append(labelled("Filter by words", words), labelled("Exposure", exposure), labelled(flagged, "flagged lots only"), clear, count);
  table.parentElement.before(box);

  function fits(row) {
    const wanted = words.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
    const text = row.textContent.toLocaleLowerCase();
    return wanted.every((word) => text.includes(word))
      && (!exposure.value || textOf(row, "Exposure") === exposure.value)
      && (!flagged.checked || Number(textOf(row, "Flags")) > 0);
  }
  function filter() {
    let n = 0;
    rows.forEach((row) => { row.hidden = !fits(row); n += row.hidden ? 0 : 1; });
    count.textContent = n === rows.length ? "" : n + " of " + rows.length + " lots";
  }
  function showAll() { words.value = ""; exposure.value = ""; flagged.checked = false; filter(); }
  words.addEventListener("input", filter);
  exposure.addEventListener("change", filter);
  flagged.addEventListener("change", filter);
  clear.addEventListener("click", showAll);

  /* From the table to the map: any place of a row stands for its button. */
  body.addEventListener("click", (event) => {
    const row = event.target.closest("tr");
    if (row && !event.target.closest("button") && !String(window.getSelection())) { row.querySelector(".go").click(); }
  });
  /* From the map to the table: the row that the page marks is brought into the view of the table alone. */
  function reveal(row) {
    row.hidden = false;
    const scroll = table.parentElement;
    const [seen, at] = [scroll.getBoundingClientRect(), row.getBoundingClientRect()];
    if (at.top < seen.top || at.bottom > seen.bottom) { scroll.scrollTop += at.top - seen.top - seen.height / 3; }
  }
  new MutationObserver((changes) => changes.forEach((change) => {
    if (change.target.classList.contains("chosen")) { reveal(change.target); }
  })).observe(body, { attributes: true, attributeFilter: ["class"], subtree: true });
  filter();
}
