/* What the panel says of a feature: its lead, checks, numbers, and what belongs to it. */
import type { NumberRow } from "../common/dom";
import { button, node, numberList } from "../common/dom";
import { featureOf, nameOf } from "./layers";
import type { MapPage } from "./page";
import type { FeaturePayload, LayerPayload, Place } from "./payload";

type Choose = (key: string, index: number) => void;

export function detailsOf(page: MapPage, layer: LayerPayload, index: number, choose: Choose): Node[] {
  const feature = layer.features[index]!;
  const at = layer.columns.findIndex((column) => layer.lead_column !== "" && column.name === layer.lead_column);
  const lead = at >= 0 ? page.units.tell(feature.v[at]!) : "";
  return [
    ...(lead ? [node("p", "lead", lead)] : []),
    ...verdictList(page, feature, [layer.key, index]),
    ...numbersOf(page, layer, feature, index),
    ...nearOf(page, layer, feature, choose),
  ];
}

/** The words of a check stand once, in the list of all checks; here are copies of them. */
function verdictList(page: MapPage, feature: FeaturePayload, place: Place): Node[] {
  const list = node("ul", "verdicts");
  const told = document.querySelectorAll(".checks > li");
  for (const number of feature.d) {
    const { at, is_passed } = page.data.verdicts[number]!;
    const isOwn = at !== null && at[0] === place[0] && at[1] === place[1];
    if (!isOwn && is_passed) {
      continue;
    }
    const part = (name: string): Node => told[number]!.querySelector(`.${name}`)!.cloneNode(true);
    const item = node("li");
    const subject = isOwn ? [] : [part("subject"), ": "];
    item.append(part("mark"), " ", ...subject, part("compared"), ...(isOwn ? [part("source")] : []));
    list.append(item);
  }
  return list.children.length ? [node("h3", "", "Checks"), list] : [];
}

function numbersOf(page: MapPage, layer: LayerPayload, feature: FeaturePayload, index: number): Node[] {
  const rows: NumberRow[] = [];
  layer.columns.forEach(({ name, label, meaning }, column) => {
    const text = page.units.tell(page.storms.valueOf(layer, index, column));
    const isTitle = name === layer.id_column && feature.id !== "";
    if (text !== "" && !isTitle && name !== layer.lead_column) {
      rows.push([page.units.tell(label), text, meaning]);
    }
  });
  return rows.length ? [node("h3", "", "Numbers"), numberList(rows)] : [];
}

function nearOf(page: MapPage, layer: LayerPayload, feature: FeaturePayload, choose: Choose): Node[] {
  const box = node("div", "near");
  for (const [key, index] of feature.to) {
    const other = featureOf(page.layers, key, index);
    if (other && key !== "contributing_areas") {
      box.append(button(nameOf(...other), () => choose(key, index)));
    }
  }
  return box.children.length ? [node("h3", "", layer.key === "lots" ? "On this lot" : "See also"), box] : [];
}
