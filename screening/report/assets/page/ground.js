/* The ground that the page carries: elevation, ways of water and standing water by cell, unpacked when first asked for. */
const WAY = { ends: 4, unknown: 9, led: 10, leaves: 11, mayBeMore: 16 };

async function inflate(text) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/* Low bytes of all cells, then high bytes; each cell less its western neighbour, the first of a row less its northern. */
async function unpackSteps(text, rows, cols) {
  const bytes = await inflate(text);
  const size = rows * cols;
  const steps = new Uint16Array(size);
  for (let cell = 0; cell < size; cell += 1) {
    const before = cell % cols ? steps[cell - 1] : cell ? steps[cell - cols] : 0;
    steps[cell] = before + bytes[cell] + (bytes[size + cell] << 8);
  }
  return steps;
}

function cubicOf(coefficients, u, v) {
  let sum = 0;
  let at = 0;
  for (let i = 0; i < 4; i += 1) {
    for (let j = 0; j < 4 - i; j += 1) { sum += coefficients[at] * Math.pow(u, i) * Math.pow(v, j); at += 1; }
  }
  return sum;
}

async function openGround(packed) {
  const { rows, cols, center, reach } = packed;
  const ground = { rows, cols, cell: packed.cell_m, isCut: packed.is_cut, led: new Map(packed.led), came: new Map(packed.came) };
  const steps = await unpackSteps(packed.elev, rows, cols);
  ground.way = await inflate(packed.way);
  ground.elev = (cell) => (steps[cell] === 65535 ? NaN : packed.base_m + packed.step_m * steps[cell]);
  /* Column and row of a place, in cells from the north-west corner, and back. */
  ground.placeOf = (at) => {
    const [u, v] = [(at.lng - center[0]) / reach[0], (at.lat - center[1]) / reach[1]];
    return packed.to_cell.map((part, k) => center[k + 2] + reach[k + 2] * cubicOf(part, u, v));
  };
  ground.latLngOf = (col, row) => {
    const [u, v] = [(col - center[2]) / reach[2], (row - center[3]) / reach[3]];
    const [lng, lat] = packed.to_degrees.map((part, k) => center[k] + reach[k] * cubicOf(part, u, v));
    return L.latLng(lat, lng);
  };
  ground.cellAt = (at) => {
    const [col, row] = ground.placeOf(at).map(Math.floor);
    return col < 0 || row < 0 || col >= cols || row >= rows ? -1 : row * cols + col;
  };
  ground.middleOf = (cell) => ground.latLngOf((cell % cols) + 0.5, Math.floor(cell / cols) + 0.5);
  ground.receiverOf = (cell) => {
    const way = ground.way[cell] & 15;
    if (way === WAY.led) { return ground.led.get(cell); }
    return way < 9 ? cell + (Math.floor(way / 3) - 1) * cols + (way % 3) - 1 : -1;
  };
  return ground;
}

function makeGround(page) {
  const packed = page.data.ground;
  let opening = null;
  const water = new Map();
  /* Resolves to the ground, or to null after a message. */
  page.openGround = () => {
    if (!packed) { page.say("The lots are too many for a page that carries its ground; this tool is not here."); return Promise.resolve(null); }
    if (!window.DecompressionStream) { page.say("This browser is too old for this tool; a newer one has it.", true); return Promise.resolve(null); }
    opening = opening || openGround(packed);
    return opening;
  };
  page.openWater = async () => {
    const depth = page.data.storms[page.storm].depth;
    if (!water.has(depth)) { water.set(depth, await unpackSteps(depth, packed.rows, packed.cols)); }
    const steps = water.get(depth);
    return (cell) => steps[cell] / 1000;
  };
}
