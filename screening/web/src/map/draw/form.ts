/* The form of what can be drawn, as `screening/report/map/drawing.py` gives it, and what is drawn. */
import type { Geometry } from "geojson";

export type Shape = "point" | "line" | "polygon";

export interface FormNumber {
  readonly label: string;
  readonly is_needed: boolean;
  /** Property name and the unit behind the box, the first offered first. */
  readonly names: readonly (readonly [name: string, symbol: string])[];
  readonly limits: Readonly<Record<string, readonly [low: number, high: number]>>;
}

export interface FormKind {
  readonly kind: string;
  readonly label: string;
  readonly shapes: readonly Shape[];
  /** It can say where its water goes; it must, to a place drawn next. */
  readonly leads: boolean;
  readonly needs_outlet: boolean;
  /** Water can be led to it. */
  readonly takes_water: boolean;
  readonly needs_level_or_slope: boolean;
  /** A driveway to study is saved in a file of its own. */
  readonly is_studied: boolean;
  readonly prefix: string;
  readonly has_structure: boolean;
  readonly numbers: readonly FormNumber[];
  readonly choices: readonly (readonly [name: string, label: string, values: readonly string[]])[];
}

export interface FormFile {
  readonly name: string;
  /** What the reader is told to run with it. */
  readonly command: string;
}

export interface DrawForm {
  readonly improvements: FormFile;
  readonly driveways: FormFile;
  /** Kind that is drawn where a drain's water comes out. */
  readonly outlet: string;
  readonly kinds: readonly FormKind[];
}

export interface Properties {
  readonly id: string;
  readonly kind: string;
  readonly to?: string;
  readonly [name: string]: string | number | undefined;
}

export interface Improvement {
  readonly properties: Properties;
  readonly geometry: Geometry;
}

export function kindOf(form: DrawForm, kind: string): FormKind {
  const found = form.kinds.find((each) => each.kind === kind);
  if (!found) {
    throw new Error(`The form has no kind ${kind}`);
  }
  return found;
}
