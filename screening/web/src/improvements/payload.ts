/* What the page of before and after holds; see `screening/report/improvements/page.py`. */
import type { Geometry } from "geojson";
import type { UnitSystem } from "../common/units";
import type { Corners, FeatureStyle } from "../map/payload";

export interface TrialFeature {
  readonly id: string;
  /** Class, a key of the layer's styles. */
  readonly c: string;
  readonly g: Geometry;
}

export interface TrialLayer {
  readonly noun: string;
  /** Key by which the words of its features are found. */
  readonly words_of: string;
  readonly styles: Readonly<Record<string, FeatureStyle>>;
  readonly features: readonly TrialFeature[];
}

export interface TrialLot {
  readonly id: string;
  readonly g: Geometry;
  readonly change: "more" | "less" | "none";
  readonly red: boolean;
}

export interface TrialImprovement {
  readonly id: string;
  /** In the reader's words. */
  readonly kind: string;
  /** Water ends in it: it is named by its id alone, to the left. */
  readonly is_end: boolean;
  readonly g: Geometry;
  readonly words: string;
  readonly to: string;
  readonly taken: string;
}

export type When = "before" | "after";

export interface TrialPayload {
  readonly units: UnitSystem;
  readonly images: Readonly<Record<"relief" | "water_before" | "water_after", { url: string; bounds: Corners }>>;
  readonly same: Readonly<Record<string, TrialLayer>>;
  readonly before: Readonly<Record<string, TrialLayer>>;
  readonly after: Readonly<Record<string, TrialLayer>>;
  readonly lots: readonly TrialLot[];
  readonly improvements: readonly TrialImprovement[];
  /** Lines of numbers before and after, by layer and id. */
  readonly words: Readonly<Record<string, Readonly<Record<string, readonly string[]>>>>;
  readonly view: Corners;
}
