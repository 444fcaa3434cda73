/* The ground and the water on it, unpacked when first asked for. */
import type { Say } from "../common/status";
import { inflate, readSteps } from "../common/unpack";
import type { Ground } from "./ground";
import { unpackGround } from "./ground";
import type { PagePayload } from "./payload";
import type { DepthOf } from "./profile";
import type { Storms } from "./storms";

const MM_PER_M = 1000;

export interface Store {
  /** The ground; null, with a message, where the page carries none or the browser cannot unpack it. */
  readonly ground: () => Promise<Ground | null>;
  /** The same without a message. */
  readonly groundIfHere: () => Promise<Ground | null>;
  readonly water: () => Promise<DepthOf>;
}

export function makeStore(data: PagePayload, storms: Storms, say: Say): Store {
  const packed = data.ground;
  const depths = new Map<string, Uint16Array>();
  let opening: Promise<Ground> | null = null;
  const canUnpack = "DecompressionStream" in window;
  const groundIfHere = async (): Promise<Ground | null> => {
    if (!packed || !canUnpack) {
      return null;
    }
    opening ??= unpackGround(packed);
    return opening;
  };
  return {
    groundIfHere,
    ground: () => {
      if (!packed) {
        say("The lots are too many for a page that carries its ground; this tool is not here.");
      } else if (!canUnpack) {
        say("This browser is too old for this tool; a newer one has it.", true);
      }
      return groundIfHere();
    },
    water: async () => {
      const text = storms.shown().depth;
      let steps = depths.get(text);
      if (!steps) {
        const [rows, cols] = [packed?.rows ?? 0, packed?.cols ?? 0];
        steps = readSteps(await inflate(text, "deflate"), rows, cols);
        depths.set(text, steps);
      }
      const known = steps;
      return (cell) => known[cell]! / MM_PER_M;
    },
  };
}
