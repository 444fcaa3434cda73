/* The table of lots sorts by any of its headings; what is unknown stays last. */
function makeTable(page) {
  function sortBy(heading) {
    const head = heading.closest("th");
    const column = Number(heading.dataset.column);
    const isNumber = head.classList.contains("num");
    const down = head.getAttribute("aria-sort") === "ascending";
    const rows = Array.from(document.querySelectorAll("#lots-table tbody tr"));
    const keyOf = (row) => row.cells[column].dataset.key;
    rows.sort((a, b) => {
      const [x, y] = [keyOf(a), keyOf(b)];
      if (x === "" || y === "") { return (x === "") - (y === ""); }
      const order = isNumber ? Number(x) - Number(y) : x.localeCompare(y);
      return down ? -order : order;
    });
    document.querySelector("#lots-table tbody").append(...rows);
    document.querySelectorAll("#lots-table thead th").forEach((th) => th.setAttribute("aria-sort", "none"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    page.say("Sorted by " + heading.textContent.trim() + (down ? ", largest first" : ", smallest first"));
  }
  document.querySelectorAll(".sort").forEach((heading) => heading.addEventListener("click", () => sortBy(heading)));
}
