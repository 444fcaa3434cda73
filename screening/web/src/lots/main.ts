/* One page for all lots of a batch: a map of tiles and a linked table. */
import { byId } from "../common/dom";
import { plainNumber } from "../common/units";
import { inflate } from "../common/unpack";
import { classesOf, fillLegend } from "./classes";
import { makeLattice } from "./lattice";
import type { Sorting } from "./order";
import { FIRST_SORTING, fits, sortLots } from "./order";
import type { LotsTable } from "./payload";
import { fillDetail, makeRows } from "./rows";
import { unpackShapes } from "./shapes";
import { makeTiles } from "./tiles";
import { makeLotsMap } from "./view";

const unpacked = (id: string): Promise<Uint8Array> => inflate(byId(id).textContent ?? "", "gzip");

async function showLots(): Promise<void> {
  const table = JSON.parse(new TextDecoder().decode(await unpacked("table"))) as LotsTable;
  const shapes = unpackShapes(new Int32Array((await unpacked("shapes")).buffer), table.n);
  const isShown = new Uint8Array(table.n).fill(1);
  const lotsIn = makeLattice(shapes);
  const tiles = makeTiles(shapes, lotsIn, classesOf(table), (lot) => isShown[lot] === 1);
  let chosen = -1;
  let sorting: Sorting = FIRST_SORTING;

  const choose = (lot: number, isFromMap: boolean): void => {
    chosen = lot;
    fillDetail(table, lot);
    if (lot >= 0 && isFromMap) {
      rows.reveal(lot);
    } else if (lot >= 0) {
      map.goTo(lot);
    }
    rows.redraw();
    map.redraw();
  };
  const refresh = (): void => {
    const [text, status] = [valueOf("text"), valueOf("status")];
    const filter = { text, leastScore: Number(valueOf("least")) || 0, status };
    for (let lot = 0; lot < table.n; lot += 1) {
      isShown[lot] = Number(fits(table, lot, filter));
    }
    const lots = Array.from({ length: table.n }, (_, lot) => lot).filter((lot) => isShown[lot]);
    rows.show(sortLots(table, lots, sorting));
    byId("count").textContent = `${plainNumber(lots.length, 0)} of ${plainNumber(table.n, 0)} lots`;
    tiles.clear();
    map.redraw();
  };
  const sortBy = (by: string): void => {
    sorting = { by, isDown: sorting.by === by && !sorting.isDown };
    refresh();
  };
  const rows = makeRows(table, { chosen: () => chosen, choose: (lot) => choose(lot, false), sortBy });
  const map = makeLotsMap({
    shapes, lotsIn, tiles,
    isShown: (lot) => isShown[lot] === 1,
    chosen: () => chosen,
    pick: (lot) => choose(lot, true),
  });
  fillControls(table, refresh);
  new ResizeObserver(() => {
    rows.redraw();
    map.redraw();
  }).observe(byId("map"));
  refresh();
  map.fit();
  document.body.dataset.ready = "yes";
}

const valueOf = (id: string): string => (byId(id) as HTMLInputElement | HTMLSelectElement).value;

function fillControls(table: LotsTable, refresh: () => void): void {
  for (const status of [...table.words["status"]!.texts].sort()) {
    byId("status").append(new Option(status, status));
  }
  for (const id of ["text", "least", "status"]) {
    byId(id).addEventListener("input", refresh);
  }
  fillLegend(byId("legend"));
}

void showLots();
