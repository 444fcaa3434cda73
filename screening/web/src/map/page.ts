/* The parts of the map page that its tools need. */
import type { Say } from "../common/status";
import type { Units } from "../common/units";
import type { Layers } from "./layers";
import type { Mode } from "./mode";
import type { Panel } from "./panel";
import type { PagePayload } from "./payload";
import type { Storms } from "./storms";
import type { Store } from "./store";

export interface MapPage {
  readonly map: L.Map;
  readonly data: PagePayload;
  readonly say: Say;
  readonly units: Units;
  readonly mode: Mode;
  readonly layers: Layers;
  readonly storms: Storms;
  readonly store: Store;
  readonly panel: Panel;
}
