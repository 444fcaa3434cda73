/* Who takes the next click on the map: a tool that asks for places, a drawing, or what lies there. */

export type ToolKey = "down" | "up" | "profile" | "measure";

export interface Mode {
  tool: ToolKey | null;
  isDrawing: boolean;
}

export const makeMode = (): Mode => ({ tool: null, isDrawing: false });
export const takesPlaces = (mode: Mode): boolean => mode.tool !== null || mode.isDrawing;
