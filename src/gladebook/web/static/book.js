// What all panels share: the map, the property as it was last told, one line that says what happened.

import { ask } from "/own/ask.js";
import { makeMap } from "/own/map.js";
import { make } from "/own/parts.js";

const $ = (id) => document.getElementById(id);

export const book = {
  map: makeMap($("map")),
  property: null,
  leave: null, // what a panel does when another one is opened
  pick: null, // what a tap on a shape does
};

export function say(words, wrong = false) {
  $("said").textContent = words;
  $("said").classList.toggle("wrong", wrong);
}

export async function careful(work) {
  try {
    return await work();
  } catch (error) {
    say(error.message, true);
    if (error.status === 409) {
      await refresh().catch(() => null);
    }
    return null;
  }
}

// Opens a panel; the one before puts its things away first.
export function open(name, parts, { leave = null, pick = null } = {}) {
  book.leave?.();
  book.leave = leave;
  book.pick = pick;
  for (const button of document.querySelectorAll("nav button")) {
    if (button.dataset.panel === name) {
      button.setAttribute("aria-current", "page");
    } else {
      button.removeAttribute("aria-current");
    }
  }
  $("panel").dataset.panel = name;
  $("panel").letIn = null;
  $("panel").replaceChildren(...parts);
  $("panel").scrollTop = 0;
  const title = $("panel").querySelector("h2");
  if (title) {
    title.tabIndex = -1;
    title.focus({ preventScroll: true });
  }
}

export function take(told) {
  book.property = told;
  $("name").textContent = told.name;
  document.title = `${told.name} - gladebook`;
  const plots = plotsOf();
  $("total").textContent = plots.length ? `${plots.length} plot${plots.length > 1 ? "s" : ""}, ${told.total_words}` : "No plots yet";
  undoReads();
  book.map.drawShapes(told.shapes, (shape) => book.pick?.(shape));
  if (told.words) {
    say(told.words);
  }
}

export const plotsOf = () => book.property.shapes.filter((shape) => shape.kind === "plot");
export const shapeOf = (uid) => book.property.shapes.find((shape) => shape.uid === uid);

export async function refresh() {
  take(await ask("/api/property"));
}

// What the Undo button would take back; a tracing's own last step comes first.
export function undoReads(step = null) {
  const words = step ?? book.property?.undo?.words ?? "";
  $("go-undo").disabled = !words;
  $("go-undo").title = words ? `Take back: ${words}` : "";
}

export const printed = () => make("button", "Print", { click: () => window.print() });

// Paper has another shape than the screen: take its size first, then fit, and back afterwards.
function onPaper(on) {
  document.body.classList.toggle("paper", on);
  $("day").textContent = on ? new Date().toLocaleDateString("sv") : "";
  book.map.fitAgain();
}
window.addEventListener("beforeprint", () => onPaper(true));
window.addEventListener("afterprint", () => onPaper(false));
