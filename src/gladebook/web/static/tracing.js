// The tracing panel: name it, tap its corners, save it.

import { post, ask } from "/own/ask.js";
import { book, careful, open, refresh, say, shapeOf, take, undoReads } from "/own/book.js";
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

const partsOf = ({ geometry }) => {
  const parts = geometry.type === "MultiPolygon" ? geometry.coordinates : [geometry.coordinates];
  return parts.map((rings) => rings.map((ring) => ring.slice(0, -1).map(([lon, lat]) => [lon, lat])));
};

export function traceNew(kind = "plot", name = "") {
  const kept = drafts.get("");
  tracing({ uid: "", kind: kept?.kind ?? kind, name: kept?.name ?? name, parts: kept?.parts ?? [[[]]] });
  if (kept) {
    say("Your unfinished outline is back.");
  }
}

export function traceAnew(shape) {
  const kept = drafts.get(shape.uid);
  const { parts, mark } = kept ?? { parts: partsOf(shape), mark: shape.mark };
  tracing({ uid: shape.uid, kind: shape.kind, name: shape.name, parts, mark });
  book.map.see(shape.geometry);
  if (kept) {
    say("Your unfinished outline is back.");
  }
}

function tracing({ uid, kind, name, parts, mark = "" }) {
  const now = document.getElementById("acres-now");
  const named = field("Name", { maxLength: 200, value: name });
  const what = choice("What is it?", KINDS);
  what.input.value = kind;
  const told = make("div", "", { className: "told" });
  const hint = make("p", "");
  const cut = button("Cut it to its neighbours", () => reshaped("/api/outline/cut", {}), { hidden: true });
  const fewer = button("Fewer corners", () => reshaped("/api/outline/thin", {}), { hidden: true });
  const width = field("Keep off the wood line, feet", { unit: "ft", inputMode: "decimal", placeholder: "10" });
  const off = button("Keep off", () => reshaped("/api/outline/narrow", { width: width.text() }));
  const hole = button("Cut a hole", () => trace.begin({ hole: true }));
  const part = button("Add a part", () => trace.begin({ hole: false }));
  const ended = button("", () => trace.finish(), { hidden: true });
  const save = main("Save", () => careful(() => kept()), { disabled: true });
  const state = { mark, asked: 0 };

  const show = (it) => {
    const enough = it.parts().length > 0;
    const more_ = it.active > 0;
    now.textContent = enough ? `${it.acres().toFixed(it.acres() < 0.1 ? 3 : 2)} ac` : "";
    now.hidden = !enough;
    save.disabled = !enough;
    const corners = it.corners();
    hole.hidden = part.hidden = more_;
    ended.hidden = !more_;
    ended.textContent = it.outer[it.active] ? "The part is done" : "The hole is done";
    hint.textContent = it.crowded
      ? `It has ${corners} corners. Zoom in to move them, or take fewer.`
      : more_
        ? `Tap the map at each corner of ${it.outer[it.active] ? "the new part" : "the hole"} (${it.rings[it.active].length} so far).`
        : enough
        ? "Drag a corner to move it; drag a dashed circle to put a corner in."
        : `Tap the map at each corner (${corners} so far).`;
    if (it.unseen) {
      hint.textContent += ` ${it.unseen} more ${it.unseen > 1 ? "corners show" : "corner shows"} when you zoom in.`;
    }
    fewer.hidden = !it.crowded;
    undoReads(it.steps.length ? "the last corner" : null);
    told.replaceChildren();
    cut.hidden = true;
    state.asked += 1;
    const mine = state.asked;
    if (enough) {
      window.setTimeout(() => trace === it && mine === state.asked && measured(it, mine), ASK_AFTER_MS);
    }
  };
  const measured = async (it, mine) => {
    const answer = await post("/api/outline", { parts: it.parts(), uid }).catch((error) => ({ words: [error.message], wrong: true }));
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
      const answer = await post(path, { parts: trace.parts(), uid, ...more_ });
      trace.put(answer.parts);
      say(answer.words.join(" "));
    });
  const kept = async () => {
    const drawn = trace.parts();
    save.disabled = true;
    try {
      if (uid) {
        take(await ask(`/api/shapes/${uid}`, { method: "PUT", body: { parts: drawn, mark: state.mark } }));
      } else {
        const body = { name: named.input.value, kind: what.input.value, parts: drawn };
        take(await post("/api/shapes", body));
      }
    } catch (error) {
      if (error.status === 409) {
        await refresh();
        const theirs = shapeOf(uid);
        if (theirs) {
          state.mark = theirs.mark; // theirs is shown now; whoever saves again has seen it
        } else {
          const mine = trace.parts({ all: true });
          trace.lay([[[]]]);
          tracing({ uid: "", kind, name, parts: mine }); // taken away: what was drawn may be saved as a new one
        }
      }
      throw error;
    } finally {
      save.disabled = false;
    }
    state.asked += 1; // nothing more is asked of this outline
    trace.lay([[[]]]);
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
      ended,
      fewer,
      cut,
      row(save, button("Take a corner out", () => trace.takeOut()), button("Corner at the cross", () => trace.addAtCross())),
      more("More", box(width.label, row(off), row(hole, part, button("Take this part or hole out", () => trace.takeRing()))), make("p", "With the keyboard: arrow keys move the map or a corner, Delete takes a corner out.")),
      row(button("Leave it", () => dropped())),
    ],
    {
      leave: () => {
        drafts.delete(uid);
        if (trace.corners() && (trace.steps.length || !uid)) {
          drafts.set(uid, { kind: what.input.value, name: named.input.value, parts: trace.parts({ all: true }), mark: state.mark });
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
    state.asked += 1; // nothing more is asked of this outline
    trace.lay([[[]]]);
    const { listPlots } = await import("/own/plots.js");
    listPlots();
    say("Left as it was.");
  };
  document.getElementById("map").classList.add("crossed");
  book.map.sized();
  trace = new Trace(book.map.leaflet, { parts, onChange: show });
}

window.addEventListener("beforeunload", (event) => {
  if (trace?.steps.length || drafts.size) {
    event.preventDefault();
  }
});
