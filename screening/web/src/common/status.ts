/* The line that says what has just happened, to eyes and to screen readers. */
import { byId } from "./dom";

export type Say = (text: string, stays?: boolean) => void;

const SHOWN_MS = 5000;

export function makeStatus(): Say {
  let hush = 0;
  return (text, stays = false) => {
    byId("status").textContent = text;
    window.clearTimeout(hush);
    if (!stays) {
      hush = window.setTimeout(() => {
        byId("status").textContent = "";
      }, SHOWN_MS);
    }
  };
}
