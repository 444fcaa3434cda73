/* What is drawn, and what was drawn before each step: undo takes back one step at a time. */
import type { Geometry } from "geojson";
import type { Improvement, Properties } from "./form";

export type Items = readonly Improvement[];

export interface History {
  readonly items: () => Items;
  readonly commit: (items: Items) => void;
  /** Puts items in place of those of the last step. */
  readonly amend: (items: Items) => void;
  /** Takes back the last step; false where there is none. */
  readonly undo: () => boolean;
  readonly canUndo: () => boolean;
}

export function makeHistory(): History {
  let steps: Items[] = [[]];
  const items = (): Items => steps[steps.length - 1]!;
  return {
    items,
    commit: (next) => {
      steps = [...steps, next];
    },
    amend: (next) => {
      steps = [...steps.slice(0, -1), next];
    },
    undo: () => {
      const can = steps.length > 1;
      steps = can ? steps.slice(0, -1) : steps;
      return can;
    },
    canUndo: () => steps.length > 1,
  };
}

/** The first id with a prefix that none has. */
export function nextId(items: Items, prefix: string, alsoTaken: readonly string[] = []): string {
  const taken = new Set([...items.map((item) => item.properties.id), ...alsoTaken]);
  let number = 1;
  while (taken.has(prefix + number)) {
    number += 1;
  }
  return prefix + number;
}

/** Leaves out an item; those that led to it lead nowhere. */
export function without(items: Items, id: string): Items {
  return items
    .filter((item) => item.properties.id !== id)
    .map((item) => {
      if (item.properties.to !== id) {
        return item;
      }
      const { to: _, ...properties } = item.properties;
      return { ...item, properties: properties as Properties };
    });
}

export function withGeometry(items: Items, id: string, geometry: Geometry): Items {
  return items.map((item) => (item.properties.id === id ? { ...item, geometry } : item));
}
