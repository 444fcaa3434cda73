/* What the map page's data hold. Things are found by their keys; no code here reads a label or a sentence. */
import type { Geometry } from "geojson";
import type { ShownUnits, Told, UnitSystem } from "../common/units";

/** Latitude and longitude of the south-west corner, then of the north-east one. */
export type Corners = [[number, number], [number, number]];

/** Layer and number of a feature in it. */
export type Place = readonly [layer: string, index: number];

export interface FeatureStyle {
  readonly color: string;
  readonly weight: number;
  readonly shape: "line" | "area" | "point";
  readonly dash?: string;
  readonly fill?: string;
  readonly fill_opacity?: number;
  readonly pattern?: string;
}

export interface ColumnPayload {
  readonly name: string;
  readonly label: Told;
  readonly meaning: string;
}

export interface FeaturePayload {
  readonly id: string;
  /** Class, a key of the layer's styles. */
  readonly c: string;
  readonly g: Geometry | null;
  /** Shown values by column. */
  readonly v: readonly Told[];
  /** What it belongs to, or holds. */
  readonly to: readonly Place[];
  /** Numbers of its verdicts. */
  readonly d: readonly number[];
}

export interface LayerPayload {
  readonly key: string;
  readonly noun: string;
  readonly styles: Readonly<Record<string, FeatureStyle>>;
  readonly columns: readonly ColumnPayload[];
  /** Column of the ids, and of the sentence that leads the details; empty where there is none. */
  readonly id_column: string;
  readonly lead_column: string;
  readonly features: readonly FeaturePayload[];
}

export interface ImagePayload {
  readonly key: string;
  readonly url: string;
  readonly bounds: Corners;
}

export interface VerdictPayload {
  /** Its subject on the map, where it is there. */
  readonly at: Place | null;
  readonly is_passed: boolean;
}

export interface StormPayload {
  readonly name: Told;
  /** By layer and column: values of this storm that stand in for those of the features. */
  readonly values: Readonly<Record<string, Readonly<Record<string, readonly Told[]>>>>;
  readonly url: string;
  readonly depth: string;
}

/** The ground that the page carries: see `screening/report/map/packed_ground.py`. */
export interface PackedGround {
  readonly rows: number;
  readonly cols: number;
  readonly cell_m: number;
  readonly is_cut: boolean;
  readonly to_cell: readonly [readonly number[], readonly number[]];
  readonly to_degrees: readonly [readonly number[], readonly number[]];
  readonly center: readonly [number, number, number, number];
  readonly reach: readonly [number, number, number, number];
  readonly base_m: number;
  readonly step_m: number;
  readonly elev: string;
  readonly way: string;
  readonly led: readonly (readonly [number, number])[];
  readonly came: readonly (readonly [number, number])[];
}

export interface PagePayload {
  readonly tagline: string;
  readonly units: UnitSystem;
  readonly shown: ShownUnits;
  readonly view: Corners;
  readonly images: readonly ImagePayload[];
  readonly basemap: { readonly url: string; readonly attribution: string } | null;
  readonly ground: PackedGround | null;
  readonly layers: readonly LayerPayload[];
  readonly ranks: readonly (readonly [index: number, rank: number])[];
  readonly verdicts: readonly VerdictPayload[];
  readonly storms: readonly StormPayload[];
}
