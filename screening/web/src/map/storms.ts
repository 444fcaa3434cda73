/* Which storm is shown: its standing water on the map, and its numbers in the details of what it changes. */
import { all, byId } from "../common/dom";
import type { Say } from "../common/status";
import type { Told, Units } from "../common/units";
import type { Layers } from "./layers";
import type { LayerPayload, PagePayload, StormPayload } from "./payload";

export interface Storms {
  readonly shown: () => StormPayload;
  readonly name: () => string;
  /** What a column says of a feature in the storm shown. */
  readonly valueOf: (layer: LayerPayload, index: number, column: number) => Told;
  readonly whenChanged: (change: () => void) => void;
}

export function makeStorms(data: PagePayload, layers: Layers, units: Units, say: Say): Storms {
  const changes: (() => void)[] = [];
  let number = 0;
  const shown = (): StormPayload => data.storms[number]!;
  const name = (): string => units.tell(shown().name);
  const showName = (): void => {
    const line = byId("storm-shown");
    line.textContent = `Storm shown: ${name()}`;
    line.hidden = number === 0;
  };
  units.whenChanged(showName);
  for (const choice of all<HTMLInputElement>("[name=storm]")) {
    choice.addEventListener("change", () => {
      number = Number(choice.value);
      const first = data.images.find((picture) => picture.key === "storm_water");
      layers.pictures.get("storm_water")?.setUrl(shown().url || (first?.url ?? ""));
      const box = document.querySelector<HTMLInputElement>("[data-switch=storm_water]");
      if (box && !box.checked) {
        box.click();
      }
      showName();
      changes.forEach((change) => change());
      say(`Storm shown: ${name()}`);
    });
  }
  return {
    shown,
    name,
    valueOf: (layer, index, column) => {
      const own = shown().values[layer.key]?.[layer.columns[column]!.name];
      return own?.[index] ?? layer.features[index]!.v[column]!;
    },
    whenChanged: (change) => changes.push(change),
  };
}
