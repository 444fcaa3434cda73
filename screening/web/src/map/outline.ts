/* Rings along the edges of cells, what is inside to the right hand. */

/** Corner of a lattice that is one wider than the cells: row * (cols + 1) + column. */
type Corner = number;
type Leads = Map<Corner, Corner[]>;

/** Outlines the cells that are 1; outer rings run with the clock (rows count downward), holes against it.

    Returns rings of [column, row], in cells from the north-west corner, with a corner wherever they turn. */
export function outlineOf(isIn: Uint8Array, rows: number, cols: number): [col: number, row: number][][] {
  const wide = cols + 1;
  const leads = edgesOf(isIn, rows, cols);
  const rings: Corner[][] = [];
  for (const [begin, ways] of leads) {
    while (ways.length) {
      rings.push(ringFrom(leads, begin, wide));
    }
  }
  return rings.map((ring) => ring.map((corner) => [corner % wide, Math.floor(corner / wide)]));
}

function edgesOf(isIn: Uint8Array, rows: number, cols: number): Leads {
  const wide = cols + 1;
  const leads: Leads = new Map();
  const has = (row: number, col: number): boolean =>
    row >= 0 && col >= 0 && row < rows && col < cols && isIn[row * cols + col] === 1;
  const add = (from: Corner, to: Corner): void => {
    const known = leads.get(from);
    if (known) {
      known.push(to);
    } else {
      leads.set(from, [to]);
    }
  };
  for (let row = 0; row < rows; row += 1) {
    for (let col = 0; col < cols; col += 1) {
      if (!has(row, col)) {
        continue;
      }
      const corner = row * wide + col;
      if (!has(row - 1, col)) add(corner, corner + 1);
      if (!has(row, col + 1)) add(corner + 1, corner + 1 + wide);
      if (!has(row + 1, col)) add(corner + 1 + wide, corner + wide);
      if (!has(row, col - 1)) add(corner + wide, corner);
    }
  }
  return leads;
}

function ringFrom(leads: Leads, begin: Corner, wide: number): Corner[] {
  // A step to the east is followed, on the right hand, by one to the south, and so on round.
  const rightOf = new Map([
    [1, wide],
    [wide, -1],
    [-1, -wide],
    [-wide, 1],
  ]);
  const ring = [begin];
  let before = begin;
  let here = leads.get(begin)!.pop()!;
  while (here !== begin) {
    const ways = leads.get(here)!;
    // Where two cells meet at a corner alone, turn to the right and stay with the same cell.
    const turn = ways.length > 1 ? Math.max(ways.indexOf(here + rightOf.get(here - before)!), 0) : 0;
    const next = ways.splice(turn, 1)[0]!;
    if (next - here !== here - before) {
      ring.push(here);
    }
    before = here;
    here = next;
  }
  return ring;
}
