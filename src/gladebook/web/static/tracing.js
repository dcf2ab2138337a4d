// The tracing panel: name it, tap its corners, save it.

import { post, ask } from "/own/ask.js";
import { book, careful, open, say, take, shapeOf, undoReads } from "/own/book.js";
import { box, button, choice, field, main, make, more, row } from "/own/parts.js";
import { Trace } from "/own/trace.js";

const ASK_AFTER_MS = 250;
const KINDS = [
  ["plot", "A plot"],
  ["obstacle", "A pond, rock or tree: taken out of every plot"],
  ["check strip", "A strip left unsprayed on purpose"],
];
const drafts = new Map(); // unfinished outlines by the id of their shape; "" for a new one
let trace = null;

// Whether a tracing took the last step back itself.
export function tracedBack() {
  if (!trace) {
    return false;
  }
  say(trace.back() ? "Took the last corner back." : "Nothing to take back in this outline. Leave it first.");
  return true;
}

const ringsOf = (shape) => {
  const rings = shape.geometry.type === "MultiPolygon" ? shape.geometry.coordinates[0] : shape.geometry.coordinates;
  return rings.map((ring) => ring.slice(0, -1).map(([lon, lat]) => [lon, lat]));
};

export function traceNew(kind = "plot", name = "") {
  const kept = drafts.get("");
  tracing({ uid: "", kind: kept?.kind ?? kind, name: kept?.name ?? name, rings: kept?.rings ?? [[]] });
  if (kept) {
    say("Your unfinished outline is back.");
  }
}

export function traceAnew(shape) {
  const kept = drafts.get(shape.uid);
  const { rings, mark } = kept ?? { rings: ringsOf(shape), mark: shape.mark };
  tracing({ uid: shape.uid, kind: shape.kind, name: shape.name, rings, mark });
  book.map.see(shape.geometry);
  if (kept) {
    say("Your unfinished outline is back.");
  }
}

function tracing({ uid, kind, name, rings, mark = "" }) {
  const now = document.getElementById("acres-now");
  const named = field("Name", { maxLength: 200, value: name });
  const what = choice("What is it?", KINDS);
  what.input.value = kind;
  const told = make("div", "", { className: "told" });
  const hint = make("p", "");
  const cut = button("Cut it to its neighbors", () => reshaped("/api/outline/cut", {}), { hidden: true });
  const fewer = button("Fewer corners", () => reshaped("/api/outline/thin", {}), { hidden: true });
  const width = field("Keep off the wood line, feet", { unit: "ft", inputMode: "decimal", placeholder: "10" });
  const off = button("Keep off", () => reshaped("/api/outline/narrow", { width: width.text() }));
  const hole = button("Cut a hole", () => {
    const on = trace.active === 0;
    trace.hole(on);
    hole.textContent = trace.active ? "The hole is done" : "Cut a hole";
  });
  const save = main("Save", () => careful(() => kept()), { disabled: true });
  const state = { mark, asked: 0 };

  const show = (it) => {
    const enough = it.rings[0].length > 2;
    now.textContent = enough ? `${it.acres().toFixed(it.acres() < 0.1 ? 3 : 2)} ac` : "";
    now.hidden = !enough;
    save.disabled = !enough;
    const corners = it.rings.reduce((sum, ring) => sum + ring.length, 0);
    hint.textContent = it.crowded
      ? `It has ${corners} corners. Zoom in to move them, or take fewer.`
      : enough
        ? "Drag a corner to move it; drag a dashed circle to put a corner in."
        : `Tap the map at each corner (${corners} so far).`;
    fewer.hidden = !it.crowded;
    undoReads(it.steps.length ? "the last corner" : null);
    told.replaceChildren();
    cut.hidden = true;
    state.asked += 1;
    const mine = state.asked;
    if (enough) {
      window.setTimeout(() => mine === state.asked && measured(it, mine), ASK_AFTER_MS);
    }
  };
  const measured = async (it, mine) => {
    const answer = await post("/api/outline", { rings: it.sound(), uid }).catch((error) => ({ words: [error.message], wrong: true }));
    if (trace === it && mine === state.asked) {
      shown(answer);
    }
  };
  const shown = (answer) => {
    told.replaceChildren(...answer.words.map((words, index) => make("p", index || answer.wrong ? words : `Measured: ${words}`, { className: answer.wrong ? "wrong" : "" })));
    cut.hidden = !answer.shared;
  };
  const reshaped = (path, more_) =>
    careful(async () => {
      const answer = await post(path, { rings: trace.sound(), uid, ...more_ });
      trace.put(answer.rings);
      say(answer.words.join(" "));
    });
  const kept = async () => {
    const drawn = trace.sound();
    save.disabled = true;
    try {
      if (uid) {
        take(await ask(`/api/shapes/${uid}`, { method: "PUT", body: { rings: drawn, mark: state.mark } }));
      } else {
        const body = { name: named.input.value, kind: what.input.value, rings: drawn };
        take(await post("/api/shapes", body));
      }
    } catch (error) {
      if (error.status === 409) {
        // Theirs is shown next; whoever saves again has seen it.
        window.setTimeout(() => {
          state.mark = shapeOf(uid)?.mark ?? state.mark;
        }, 1000);
      }
      throw error;
    } finally {
      save.disabled = false;
    }
    trace.rings = [[]];
    const { listPlots } = await import("/own/plots.js");
    listPlots();
  };
  open(
    "trace",
    [
      make("h2", uid ? `Move the corners of ${name}` : "Trace"),
      ...(uid ? [] : [named.label, what.label]),
      hint,
      told,
      fewer,
      cut,
      row(save, button("Take a corner out", () => trace.takeOut()), button("Corner at the cross", () => trace.addAtCross())),
      more("More", box(width.label, row(off, hole)), make("p", "With the keyboard: arrow keys move the map or a corner, Delete takes a corner out.")),
      row(button("Leave it", () => dropped())),
    ],
    {
      leave: () => {
        drafts.delete(uid);
        if (trace.rings[0].length && (trace.steps.length || !uid)) {
          drafts.set(uid, { kind: what.input.value, name: named.input.value, rings: trace.rings, mark: state.mark });
        }
        trace.end();
        trace = null;
        now.hidden = true;
        document.getElementById("map").classList.remove("crossed");
        undoReads();
      },
    },
  );
  const dropped = async () => {
    trace.rings = [[]];
    const { listPlots } = await import("/own/plots.js");
    listPlots();
    say("Left as it was.");
  };
  document.getElementById("map").classList.add("crossed");
  book.map.sized();
  trace = new Trace(book.map.leaflet, { rings, onChange: show });
}

window.addEventListener("beforeunload", (event) => {
  if (trace?.steps.length || drafts.size) {
    event.preventDefault();
  }
});
