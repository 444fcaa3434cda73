/* The drawing tool: proposed improvements and driveways to study are drawn, given numbers, edited and saved. */
import { byId } from "../../common/dom";
import type { MapPage } from "../page";
import { begin, finish, stop, undoCorner } from "./drawing";
import { editItem, leaveItem, removeItem, shapeEvents, showCorners } from "./editing";
import { makeFields } from "./fields";
import type { DrawForm } from "./form";
import { makeHistory } from "./history";
import { redraw } from "./redraw";
import { RING } from "./look";
import { drivewaysText, improvementsText, leadsNowhere, saveAs } from "./save";
import { makeShapes } from "./shapes";
import type { State } from "./state";
import { makeView, tell } from "./view";

export function drawForm(page: MapPage, form: DrawForm, leaveTool: () => void): void {
  const { map } = page;
  map.pm.setGlobalOptions({
    panes: { layerPane: "drawn", vertexPane: "drawn_corners", markerPane: "drawn_corners" },
  });
  const fields = makeFields(form.kinds[0]!);
  const view = makeView(form, fields, {
    toggle: () => setOpen(state, !isOpen(state)),
    close: () => setOpen(state, false),
    kindChosen: () => redraw(state),
    begin: () => begin(state),
    finish: () => finish(state),
    addMiddle: () => state.sketch?.add(map.getCenter(), false),
    undo: () => undo(state),
    cancel: () => stop(state, "Nothing was drawn."),
    saveImprovements: () => saveImprovements(state),
    saveDriveways: () => tell(view, saveAs(form.driveways, drivewaysText(form, state.history.items()))),
  });
  const shapes = makeShapes(map, shapeEvents(() => state));
  const label = L.tooltip({
    permanent: true, direction: "auto", offset: [16, 0], className: "drawn-size", interactive: false,
  });
  const ring = L.circleMarker([0, 0], RING);
  const state: State = {
    page, form, fields, view, shapes, label, ring, leaveTool, history: makeHistory(),
    actions: { edit: (id) => editItem(state, id), remove: (id) => removeItem(state, id) },
    draft: null, sketch: null, waiting: null, edited: null, corner: 0, ground: null,
  };
  document.querySelector(".tools")?.append(view.opener);
  page.units.whenChanged(() => redraw(state));
  takeKeys(state);
  redraw(state);
}

const isOpen = (state: State): boolean => state.view.panel.isConnected;

function setOpen(state: State, open: boolean): void {
  const { view, page } = state;
  view.opener.setAttribute("aria-expanded", String(open));
  if (open) {
    state.leaveTool();
    page.panel.close();
    byId("detail").before(view.panel);
    view.kinds.focus();
    void page.store.groundIfHere().then((ground) => {
      state.ground = ground;
    });
    return;
  }
  if (state.sketch) {
    stop(state, "");
  }
  if (state.edited) {
    leaveItem(state);
  }
  view.panel.remove();
  view.opener.focus();
}

function undo(state: State): void {
  if (state.sketch) {
    undoCorner(state);
    return;
  }
  state.history.undo();
  redraw(state);
  if (state.edited) {
    showCorners(state);
  } else {
    tell(state.view, "");
  }
}

function saveImprovements(state: State): void {
  const { form, history, view } = state;
  const lost = leadsNowhere(form, history.items());
  if (lost) {
    const why = "leads nowhere: remove it and draw it again with its outlet.";
    tell(view, `${lost.properties.id} ${why}`, true);
    return;
  }
  tell(view, saveAs(form.improvements, improvementsText(form, history.items())));
}

function takeKeys(state: State): void {
  const container = state.page.map.getContainer();
  const isTyping = (event: Event): boolean => (event.target as Element).matches("input, select, textarea");
  container.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && state.sketch && event.target === container) {
      event.preventDefault();
      state.sketch.add(state.page.map.getCenter(), false);
    }
  });
  // Before the details hear of it: Escape ends what was begun last.
  document.addEventListener("keydown", (event) => {
    if (!isOpen(state)) {
      return;
    }
    if (event.key === "Escape") {
      event.stopImmediatePropagation();
      if (state.sketch) {
        stop(state, "Nothing was drawn.");
      } else if (state.edited) {
        leaveItem(state);
      } else {
        setOpen(state, false);
      }
    } else if (event.key.toLowerCase() === "z" && (event.ctrlKey || event.metaKey) && !isTyping(event)) {
      event.preventDefault();
      undo(state);
    }
  }, true);
}
