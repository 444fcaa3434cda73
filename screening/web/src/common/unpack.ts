/* Packed data of a page: base64, deflated, whole numbers as differences. */

/** Inflates base64 text; `kind` as the writer chose it. */
export async function inflate(text: string, kind: "deflate" | "gzip"): Promise<Uint8Array> {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream(kind));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/** Reads the low bytes of all cells, then the high bytes; each cell less its western neighbor, the first of a row less
    its northern one, all modulo 65536. */
export function readSteps(bytes: Uint8Array, rows: number, cols: number): Uint16Array {
  const size = rows * cols;
  if (bytes.length !== 2 * size) {
    throw new Error(`Packed cells: got ${bytes.length} bytes, expected ${2 * size}`);
  }
  const steps = new Uint16Array(size);
  // All cells before `cell` hold their own value, so its neighbor's can be added.
  for (let cell = 0; cell < size; cell += 1) {
    const before = cell % cols ? steps[cell - 1]! : cell ? steps[cell - cols]! : 0;
    steps[cell] = before + bytes[cell]! + (bytes[size + cell]! << 8);
  }
  return steps;
}

/** The JSON that a script element of the page holds. */
export function readPayload<T>(id: string): T {
  return JSON.parse(document.getElementById(id)?.textContent ?? "null") as T;
}
