/* What the drawing tool holds between two clicks. */
import type { Ground } from "../ground";
import type { MapPage } from "../page";
import type { Fields } from "./fields";
import type { DrawForm, Properties } from "./form";
import type { History } from "./history";
import type { Shapes } from "./shapes";
import type { Sketch } from "./sketch";
import type { View } from "./view";

/** A shape that is drawn but for its corners. */
export interface Draft {
  readonly properties: Properties;
  readonly asksOutlet: boolean;
}

/** A drain that is drawn and waits for its outlet. */
export interface Waiting {
  readonly draft: Draft;
  readonly corners: readonly L.LatLng[];
}

export interface State {
  readonly page: MapPage;
  readonly form: DrawForm;
  readonly history: History;
  readonly shapes: Shapes;
  readonly fields: Fields;
  readonly view: View;
  /** Length beside the pointer. */
  readonly label: L.Tooltip;
  /** Ring about the corner that is picked in the panel. */
  readonly ring: L.CircleMarker;
  readonly leaveTool: () => void;
  /** What the buttons beside an item do. */
  readonly actions: { readonly edit: (id: string) => void; readonly remove: (id: string) => void };
  draft: Draft | null;
  sketch: Sketch | null;
  waiting: Waiting | null;
  edited: string | null;
  /** Number of the corner picked in the panel. */
  corner: number;
  ground: Ground | null;
}
