/// <reference types="node" />
import { deflateSync, gzipSync } from "node:zlib";
import { describe, expect, it } from "vitest";
import { inflate, readSteps } from "../src/common/unpack";
import { cubicOf, FLOW, unpackGround } from "../src/map/ground";
import { packedOf, spot, TO } from "./grounds";

/** Packs as `pack_steps` of the toolkit: differences, low bytes of all cells, then high bytes. */
function packSteps(rows: number[][]): Uint8Array {
  const change = rows.map((row, r) =>
    row.map((value, c) => (value - (c ? row[c - 1]! : r ? rows[r - 1]![0]! : 0) + 65_536) % 65_536),
  );
  const flat = change.flat();
  return Uint8Array.from([...flat.map((value) => value & 255), ...flat.map((value) => value >> 8)]);
}

describe("packed steps", () => {
  it("read back, also where differences wrap round at 16 bits", () => {
    const rows = [[300, 5, 65_535], [0, 65_535, 1]];
    expect(Array.from(readSteps(packSteps(rows), 2, 3))).toEqual(rows.flat());
  });

  it("are read as the bytes stand", () => {
    // Low bytes 1, 255, then high bytes 0, 255: 1, and 1 + 65535 = 0 modulo 65536.
    expect(Array.from(readSteps(Uint8Array.from([1, 255, 0, 255]), 1, 2))).toEqual([1, 0]);
  });

  it("of another size are refused", () => {
    expect(() => readSteps(new Uint8Array(5), 1, 3)).toThrow("got 5 bytes, expected 6");
  });

  it("come out of base64 and either way of deflating", async () => {
    const bytes = Uint8Array.from([7, 0, 255]);
    expect(Array.from(await inflate(deflateSync(bytes).toString("base64"), "deflate"))).toEqual([7, 0, 255]);
    expect(Array.from(await inflate(gzipSync(bytes).toString("base64"), "gzip"))).toEqual([7, 0, 255]);
  });
});

describe("the ground of a page", () => {
  const steps = [[250, 0, 65_535], [1, 2, 3]];
  const packed = packedOf(2, 3, {
    elev: deflateSync(packSteps(steps)).toString("base64"),
    way: deflateSync(Uint8Array.from([TO.e, TO.end, FLOW.unknown, TO.ne, FLOW.led, FLOW.leaves])).toString("base64"),
    led: [[4, 0]],
  });

  it("has elevations in steps, and none where the step says so", async () => {
    const ground = await unpackGround(packed);
    expect([0, 1, 3].map(ground.elev)).toEqual([102.5, 100, 100.01]);
    expect(ground.elev(2)).toBeNaN();
  });

  it("knows the receiver of each cell", async () => {
    const ground = await unpackGround(packed);
    expect([0, 1, 2, 3, 4, 5].map(ground.receiverOf)).toEqual([1, 1, -1, 1, 0, -1]);
  });

  it("leads from a place to its cell and back", async () => {
    const ground = await unpackGround(packed);
    expect(ground.cellAt(spot(1.2, 2.9))).toBe(5);
    expect([spot(-0.1, 1), spot(1, -0.1), spot(2.1, 1), spot(1, 3.1)].map(ground.cellAt)).toEqual([-1, -1, -1, -1]);
    const [col, row] = ground.placeOf(ground.middleOf(4));
    expect([col, row]).toEqual([expect.closeTo(1.5, 9), expect.closeTo(1.5, 9)]);
  });

  it("sums a cubic in the order of its powers", () => {
    // 1 + 2 v + 3 v2 + 4 v3 + 5 u + 6 uv + 7 uv2 + 8 u2 + 9 u2v + 10 u3 at u = 2, v = 3.
    expect(cubicOf([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 2, 3)).toBe(
      1 + 6 + 27 + 108 + 10 + 36 + 126 + 32 + 108 + 80,
    );
  });
});
