/* What corners snap to: walls, driveways, lot lines, and what is drawn already. */
import type { Layers } from "../layers";

export const SNAP_PX = 12;
const SNAPPED_TO = ["structures", "others", "driveways", "lots"];
/** Beyond the window by its own size on each side. */
const MARGIN = 1;

/** Lets corners snap to what lies about the window. */
export function offerSnapping(map: L.Map, layers: Layers): void {
  const near = map.getBounds().pad(MARGIN);
  for (const key of SNAPPED_TO) {
    for (const shape of layers.shapes.get(key) ?? []) {
      const isNear = shape ? near.intersects(shape.getBounds()) : false;
      shape?.eachLayer((part) => {
        part.options.snapIgnore = !isNear;
      });
    }
  }
}
