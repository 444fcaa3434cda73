/* The panel beside the map: one for all, what is shown last replaces what was there. */
import { byId } from "../common/dom";

export interface Panel {
  readonly show: (title: string, parts: readonly Node[]) => void;
  readonly close: () => void;
  readonly isOpen: () => boolean;
  readonly whenClosed: (change: () => void) => void;
}

export function makePanel(): Panel {
  const [box, title, body] = [byId("detail"), byId("detail-title"), byId("detail-body")];
  const changes: (() => void)[] = [];
  return {
    show: (heading, parts) => {
      title.textContent = heading;
      body.replaceChildren(...parts);
      body.scrollTop = 0;
      box.hidden = false;
      const side = box.closest(".side");
      if (side) {
        side.scrollTop = 0;
      }
    },
    close: () => {
      box.hidden = true;
      changes.forEach((change) => change());
    },
    isOpen: () => !box.hidden,
    whenClosed: (change) => changes.push(change),
  };
}
