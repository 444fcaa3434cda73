/* The files that the commands read. */
import { saveFile } from "../../common/files";
import type { DrawForm, FormFile, Improvement } from "./form";
import { kindOf } from "./form";
import type { Items } from "./history";

export const isStudied = (form: DrawForm, item: Improvement): boolean =>
  kindOf(form, item.properties.kind).is_studied;

/** The text of a file of improvements. */
export function improvementsText(form: DrawForm, items: Items): string {
  const drawn = items.filter((item) => !isStudied(form, item));
  return fileText(drawn.map(({ properties, geometry }) => ({ type: "Feature", properties, geometry })));
}

/** The text of a file of driveways to study. */
export function drivewaysText(form: DrawForm, items: Items): string {
  const drives = items.filter((item) => isStudied(form, item));
  return fileText(
    drives.map(({ properties, geometry }) => ({
      type: "Feature", properties: { driveway_id: properties.id }, geometry,
    })),
  );
}

/** The first item that has to lead somewhere and does not. */
export function leadsNowhere(form: DrawForm, items: Items): Improvement | undefined {
  return items.find((item) => kindOf(form, item.properties.kind).needs_outlet && !item.properties.to);
}

function fileText(features: readonly object[]): string {
  return `${JSON.stringify({ type: "FeatureCollection", features }, null, 1)}\n`;
}

/** Hands the file to the reader, and says what to do with it. */
export function saveAs(file: FormFile, text: string): string {
  saveFile(file.name, "application/geo+json", text);
  return `Saved. Give the file to the command: ${file.command}`;
}
