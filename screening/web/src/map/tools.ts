/* Tools that ask the map for a place: by a click, by Enter at the cross in its middle, or by typed degrees. */
import { all, button, byId, isNarrow, node } from "../common/dom";
import type { ToolKey } from "./mode";
import type { MapPage } from "./page";
import type { Traced } from "./traced";
import { typedPlace } from "./typed";

const TOOLS: Readonly<Record<ToolKey, { title: string; ask: string; isLine: boolean }>> = {
  down: {
    title: "Where water goes",
    ask: "Choose a place: the line shows where its water runs, over full low spots and round buildings.",
    isLine: false,
  },
  up: {
    title: "What drains here",
    ask: "Choose a place: shaded is the ground whose water runs through it.",
    isLine: false,
  },
  profile: {
    title: "Profile along a line",
    ask: "Choose two or more places: below is the ground between them.",
    isLine: true,
  },
  measure: {
    title: "Measure",
    ask: "Choose two places for a length, three or more for an area.",
    isLine: true,
  },
};

/** What a tool finds for the places taken, as parts of the panel; `isCurrent` is false once another was asked. */
export type Answer = (places: readonly L.LatLng[], isCurrent: () => boolean) => Promise<Node[]>;

export interface Tools {
  readonly leave: () => void;
  /** Takes a place in place of the one taken. */
  readonly use: (at: L.LatLng) => void;
}

interface State {
  readonly page: MapPage;
  readonly traced: Traced;
  readonly answers: Readonly<Record<ToolKey, Answer>>;
  places: L.LatLng[];
  /** Number of the question asked last. */
  asked: number;
}

export function makeTools(page: MapPage, traced: Traced, answers: Readonly<Record<ToolKey, Answer>>): Tools {
  const state: State = { page, traced, answers, places: [], asked: 0 };
  const again = (): void => {
    if (page.mode.tool && state.places.length) {
      void answer(state);
    }
  };
  page.storms.whenChanged(again);
  page.units.whenChanged(again);
  page.map.on("click", (event) => use(state, event.latlng));
  takeKeys(state);
  for (const choice of all("[data-tool]")) {
    choice.addEventListener("click", () => {
      const key = choice.dataset.tool as ToolKey;
      if (page.mode.tool === key) {
        leave(state);
        page.panel.close();
      } else {
        start(state, key);
      }
    });
  }
  return { leave: () => leave(state), use: (at) => use(state, at) };
}

function takeKeys(state: State): void {
  const { map, mode } = state.page;
  const container = map.getContainer();
  container.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && mode.tool && event.target === container) {
      event.preventDefault();
      use(state, map.getCenter());
    }
  });
}

function press(page: MapPage): void {
  for (const choice of all("[data-tool]")) {
    choice.setAttribute("aria-pressed", String(choice.dataset.tool === page.mode.tool));
  }
  page.map.getContainer().classList.toggle("asking", page.mode.tool !== null);
}

function leave(state: State): void {
  state.page.mode.tool = null;
  state.places = [];
  state.asked += 1;
  state.traced.clear();
  press(state.page);
}

function start(state: State, key: ToolKey): void {
  const { page } = state;
  leave(state);
  page.panel.close();
  page.mode.tool = key;
  press(page);
  show(state, key, []);
  if (isNarrow()) {
    page.map.getContainer().scrollIntoView({ block: "start", behavior: "instant" });
  }
  page.say(TOOLS[key].ask);
}

function show(state: State, key: ToolKey, parts: readonly Node[]): void {
  const { page, places } = state;
  const tool = TOOLS[key];
  const row = node("div", "near");
  row.append(button("Middle of the map", () => use(state, page.map.getCenter())));
  if (tool.isLine && places.length) {
    row.append(
      button("Undo", () => {
        places.pop();
        void answer(state);
      }),
    );
  }
  if (places.length) {
    row.append(button("Start again", () => start(state, key)));
  }
  const typed = typedPlace(page.map, page.say, (at) => use(state, at));
  page.panel.show(tool.title, [...(parts.length ? parts : [node("p", "", tool.ask)]), row, typed]);
  byId("detail-body").dataset.places = String(places.length);
}

function use(state: State, at: L.LatLng): void {
  const key = state.page.mode.tool;
  if (key) {
    state.places = TOOLS[key].isLine ? [...state.places, at] : [at];
    void answer(state);
  }
}

async function answer(state: State): Promise<void> {
  const key = state.page.mode.tool;
  if (!key) {
    return;
  }
  state.asked += 1;
  const number = state.asked;
  const isCurrent = (): boolean => number === state.asked && state.page.mode.tool === key;
  const { places } = state;
  const parts = places.length ? await state.answers[key](places, isCurrent) : [];
  // Another question may have been asked, or the tool left, while the ground was unpacked.
  if (isCurrent()) {
    show(state, key, parts);
  }
}
