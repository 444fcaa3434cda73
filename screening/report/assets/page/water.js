/* Where the water of a place goes, and what drains to it, by the ways that the screening found. */
function followWater(ground, cell) {
  const cells = [cell];
  let length = 0;
  let here = cell;
  for (;;) {
    const way = ground.way[here] & 15;
    const next = ground.receiverOf(here);
    if (next < 0 || next === here) { return { cells, length, end: way === WAY.leaves ? "leaves" : endOf(ground, here) }; }
    const [down, across] = [Math.floor(next / ground.cols) - Math.floor(here / ground.cols), (next % ground.cols) - (here % ground.cols)];
    length += Math.hypot(down, across) * ground.cell;
    cells.push(next);
    here = next;
  }
}
function endOf(ground, cell) {
  const [row, col] = [Math.floor(cell / ground.cols), cell % ground.cols];
  const isEdge = row === 0 || col === 0 || row === ground.rows - 1 || col === ground.cols - 1;
  return isEdge ? "edge" : "gap";
}

/* Cells that drain to each cell, as one list cut into parts: the ways turned round. */
function donorsOf(ground) {
  if (ground.donors) { return ground.donors; }
  const size = ground.rows * ground.cols;
  const start = new Uint32Array(size + 1);
  const each = (use) => {
    for (let cell = 0; cell < size; cell += 1) {
      const to = ground.receiverOf(cell);
      if (to >= 0 && to !== cell) { use(cell, to); }
    }
  };
  each((_, to) => { start[to + 1] += 1; });
  for (let cell = 0; cell < size; cell += 1) { start[cell + 1] += start[cell]; }
  const donor = new Uint32Array(start[size]);
  const next = start.slice();
  each((cell, to) => { donor[next[to]] = cell; next[to] += 1; });
  ground.donors = { start, donor };
  return ground.donors;
}
function catchmentOf(ground, cell) {
  const { start, donor } = donorsOf(ground);
  const isIn = new Uint8Array(ground.rows * ground.cols);
  const waiting = [cell];
  isIn[cell] = 1;
  const found = { isIn, cells: 0, beyond: 0, mayBeMore: false, highest: cell };
  while (waiting.length) {
    const here = waiting.pop();
    found.cells += 1;
    found.beyond += ground.came.get(here) || 0;
    if (ground.way[here] & WAY.mayBeMore) { found.mayBeMore = true; }
    if (ground.elev(here) > ground.elev(found.highest)) { found.highest = here; }
    for (let k = start[here]; k < start[here + 1]; k += 1) { isIn[donor[k]] = 1; waiting.push(donor[k]); }
  }
  found.area = found.cells * ground.cell * ground.cell + found.beyond;
  return found;
}

/* Rings along the edges of cells, the ground in them to the right hand. */
function outlineOf(ground, isIn) {
  const { rows, cols } = ground;
  const has = (row, col) => row >= 0 && col >= 0 && row < rows && col < cols && isIn[row * cols + col] === 1;
  const wide = cols + 1;
  const leads = new Map();
  const add = (from, to) => { if (leads.has(from)) { leads.get(from).push(to); } else { leads.set(from, [to]); } };
  for (let row = 0; row < rows; row += 1) {
    for (let col = 0; col < cols; col += 1) {
      if (!has(row, col)) { continue; }
      const corner = row * wide + col;
      if (!has(row - 1, col)) { add(corner, corner + 1); }
      if (!has(row, col + 1)) { add(corner + 1, corner + 1 + wide); }
      if (!has(row + 1, col)) { add(corner + 1 + wide, corner + wide); }
      if (!has(row, col - 1)) { add(corner + wide, corner); }
    }
  }
  const rings = [];
  leads.forEach((_, begin) => {
    while (leads.get(begin).length) { rings.push(ringFrom(leads, begin, wide)); }
  });
  return rings.map((ring) => ring.map((corner) => ground.latLngOf(corner % wide, Math.floor(corner / wide))));
}
function ringFrom(leads, begin, wide) {
  const ring = [begin];
  let before = begin;
  let here = leads.get(begin).pop();
  while (here !== begin) {
    const ways = leads.get(here);
    /* Where two cells meet at a corner alone, turn to the right and stay with the same cell. */
    const right = { 1: wide, [wide]: -1, [-1]: -wide, [-wide]: 1 }[here - before];
    const turn = ways.length > 1 ? Math.max(ways.indexOf(here + right), 0) : 0;
    const next = ways.splice(turn, 1)[0];
    if (next - here !== here - before) { ring.push(here); }
    before = here;
    here = next;
  }
  return ring;
}
