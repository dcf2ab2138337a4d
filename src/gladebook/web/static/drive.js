// How did I do? Drop the track in, trim the ride from the truck, say how wide the boom is, look.

import { ask, post, send, streamed } from "/own/ask.js";
import { book, careful, open, printed, refresh, say } from "/own/book.js";
import { keeper } from "/own/kept.js";
import { box, button, field, list, main, make, more, row } from "/own/parts.js";

const L = window.L;
const PARTS = 1000;
const last = { tracks: [], boom: "", behind: "", mixed: "", left: "", perAcre: "" };

export async function drivePanel() {
  const { applications } = await ask("/api/applications");
  const fields = {
    boom: field("How wide is the boom, feet?", { unit: "ft", inputMode: "decimal", placeholder: "12", value: last.boom }),
    behind: field("How far behind the phone is it, feet?", { unit: "ft", inputMode: "decimal", placeholder: "6", value: last.behind }),
    mixed: field("Gallons mixed", { unit: "gal", inputMode: "decimal", placeholder: "30", value: last.mixed }),
    left: field("Gallons left", { unit: "gal", inputMode: "decimal", placeholder: "2", value: last.left }),
    perAcre: field("Gallons per acre", { unit: "gal/ac", inputMode: "decimal", placeholder: "15", value: last.perAcre }),
  };
  const found = make("div");
  const trim = trimmer();
  const input = make("input", "", { type: "file", id: "track" });
  const drop = make("label", "Drop the track in here, or choose it");
  drop.append(input);
  const bar = make("progress", "", { max: 1, value: 0, hidden: true, "aria-label": "How far it is" });
  const stop = button("Stop", () => null, { hidden: true });
  const answer = make("div", "", { id: "how" });

  const shown = () => {
    found.replaceChildren(...last.tracks.map((track, index) => row(
      make("span", `${track.name || track.file}: ${track.points.toLocaleString("en-US")} points${track.boom_recorded ? ", boom recorded" : ""}`),
      button("Take it out", () => {
        last.tracks.splice(index, 1);
        shown();
      }, { "aria-label": `Take ${track.name || track.file} out` }),
    )));
    trim.show(last.tracks);
  };
  const letIn = async (file) => {
    if (!file) {
      return;
    }
    say(`Reading ${file.name} ...`);
    book.map.drawCovered(null);
    last.tracks.push(await send(`/api/tracks?name=${encodeURIComponent(file.name)}`, file));
    shown();
    book.map.seeExtra({ withShapes: true });
    input.value = "";
    say(`${file.name} is in.`);
    if (fields.boom.input.value || last.tracks.every((track) => track.width_recorded)) {
      check();
    }
  };
  input.addEventListener("change", () => careful(() => letIn(input.files[0])));

  let running = null;
  const check = () =>
    careful(async () => {
      if (!last.tracks.length) {
        say("Drop the track in first.", true);
        return;
      }
      Object.assign(last, Object.fromEntries(Object.entries(fields).map(([key, { input: typed }]) => [key, typed.value])));
      running?.abort(); // what is asked last counts
      const control = new AbortController();
      running = control;
      stop.onclick = () => control.abort();
      bar.hidden = stop.hidden = false;
      answer.replaceChildren();
      const body = {
        tracks: last.tracks.map((track) => track.token),
        boom: fields.boom.text(),
        behind: fields.behind.text(),
        mixed: fields.mixed.text(),
        left: fields.left.text(),
        per_acre: fields.mixed.input.value ? fields.perAcre.text() : "",
        ...trim.times(),
      };
      const tell = ({ what, share, first }) => {
        if (running !== control) {
          return;
        }
        if (first) {
          book.map.extra.clearLayers();
          book.map.drawCovered(first);
          document.documentElement.dataset.painted = "yes";
          say("Painted. Now each missed strip is looked at ...");
        } else {
          bar.value = share;
          bar.title = what;
        }
      };
      delete document.documentElement.dataset.painted;
      delete document.documentElement.dataset.answered;
      say("Driving the tracks ...");
      try {
        const told = await streamed("/api/check", body, { signal: control.signal, tell });
        if (running !== control) {
          return;
        }
        if (told === null) {
          say("Stopped; nothing was written.");
          return;
        }
        book.map.extra.clearLayers();
        book.map.drawCovered(told.map);
        result(answer, told);
        say(told.headline.join(". "));
        answer.scrollIntoView({ block: "start" });
        document.documentElement.dataset.answered = "yes";
      } finally {
        if (running === control) {
          bar.hidden = stop.hidden = true;
        }
      }
    });

  open(
    "drive",
    [
      make("h2", "How did I do?"),
      row(fields.mixed.label, fields.left.label),
      fields.perAcre.label,
      drop,
      found,
      trim.part,
      row(fields.boom.label, fields.behind.label),
      main("Look how it went", check),
      bar,
      stop,
      answer,
      before(applications),
    ],
    {
      leave: () => {
        running?.abort();
        running = null;
        book.map.extra.clearLayers();
        book.map.drawCovered(null);
      },
    },
  );
  book.map.seeAll();
  document.getElementById("panel").letIn = letIn;
  shown();
}

// Two sliders over the time of a single track; what lies outside is drawn thin and is left out.
function trimmer() {
  const part = make("fieldset", "", { hidden: true });
  const start = field("Leave out the ride before", { type: "range", min: 0, max: PARTS, value: 0 });
  const end = field("Leave out the ride after", { type: "range", min: 0, max: PARTS, value: PARTS });
  const words = make("p", "");
  part.append(make("legend", "The ride from the truck"), start.label, end.label, words);
  let tracks = [];
  const seconds = () => tracks[0].seconds;
  const span = () => [Math.min(+start.input.value, +end.input.value), Math.max(+start.input.value, +end.input.value)].map((at) => (seconds() * at) / PARTS);
  const able = () => tracks.length === 1 && seconds() > 0;
  const clock = (at) => `${Math.floor(at / 60)}:${String(Math.floor(at % 60)).padStart(2, "0")}`;
  const moment = (at) => {
    const zoned = tracks[0].clock === "utc";
    const text = new Date(Date.parse(tracks[0].start + (zoned ? "" : "Z")) + at * 1000).toISOString();
    return zoned ? text.replace("Z", "+00:00") : text.replace("Z", "");
  };
  const draw = () => {
    const { extra } = book.map;
    extra.clearLayers();
    const [from, until] = able() ? span() : [0, Infinity];
    for (const track of tracks) {
      const line = (points, className) => L.polyline(points.map(([lat, lon]) => [lat, lon]), { className, interactive: false }).addTo(extra);
      line(track.way, "ride-out");
      line(track.way.filter(([, , at]) => at === null || (at >= from && at <= until)), "ride-in");
    }
    if (able()) {
      words.textContent = `Kept: ${clock(from)} to ${clock(until)} of ${clock(seconds())} (minutes and seconds).`;
      start.input.setAttribute("aria-valuetext", clock((seconds() * start.input.value) / PARTS));
      end.input.setAttribute("aria-valuetext", clock((seconds() * end.input.value) / PARTS));
    }
  };
  for (const { input } of [start, end]) {
    input.addEventListener("input", draw);
  }
  return {
    part,
    show(found) {
      if (tracks[0] !== found[0]) {
        start.input.value = 0;
        end.input.value = PARTS;
      }
      tracks = [...found];
      part.hidden = !able();
      draw();
    },
    times() {
      const [from, until] = able() ? span() : [0, 0];
      return {
        start: able() && from > 0 ? moment(from) : "",
        end: able() && until < seconds() ? moment(until) : "",
      };
    },
  };
}

function result(answer, told) {
  const { strips } = told.map;
  const items = box(...byVerdict(strips));
  const saved = box();
  answer.replaceChildren(
    ...told.headline.map((words) => make("p", words, { className: "asked" })),
    ...(strips.length ? [make("h3", "Missed strips"), make("p", told.entry, { className: "wrong" }), items, make("p", "Save it below; then say which strips you went to see.")] : []),
    more("All of it in sentences", ...told.words.map((words) => make("p", words))),
    legend(told.map),
    ...list("Assumed", told.assumptions, { folded: true }),
    ...list("Notices", told.notices, { folded: true }),
    ...list("Cautions", told.cautions),
    row(printed()),
    saved,
  );
  saved.append(
    keeper(told.token, "Save it as", `Application ${told.day || new Date().toLocaleDateString("sv")}`, async (name) => {
      const { applications } = await ask("/api/applications");
      const one = applications.find((kept) => kept.name === name.trim());
      if (one) {
        items.replaceChildren(keptStrips(one));
      }
    }),
  );
}

// What is worth a walk first; what nobody can tell is folded away. Numbers are those on the map.
function byVerdict(strips) {
  const numbered = (kind) => {
    const items = make("ol", "", { className: "strips" });
    strips.forEach((strip, index) => strip.kind === kind && items.append(stripLine(strip, index + 1, `${strip.plot}: ${strip.words}`)));
    return items;
  };
  const [look, off, doubtful] = ["go_look", "boom_off", "cant_tell"].map(numbered);
  const heading = (words, items) => (items.children.length ? [make("h3", words), items] : []);
  const folded = doubtful.children.length ? [more(`Can't tell: a skip, or the receiver's error (${doubtful.children.length})`, doubtful)] : [];
  return [...heading("Go look, largest first", look), ...heading("The record shows the boom off", off), ...folded];
}

function legend({ looks, shapes }) {
  const items = make("ul", "", { className: "legend" });
  for (const look of looks.filter(({ key, size, pattern }) => shapes[key] || (size && !/line/.test(pattern) && !/^0 /.test(size)))) {
    const item = make("li");
    const said = make("span");
    said.append(make("b", `${look.word}${look.size ? ` ${look.size}` : ""}`), make("small", ` ${look.meaning}`));
    item.append(window.gladeGround.sample(look), said);
    items.append(item);
  }
  const part = more("Shown on the map", items);
  part.open = true;
  return part;
}

function stripLine(strip, number, words, ...parts) {
  const item = make("li");
  item.append(
    button(`${number}. ${words}`, () => {
      book.map.see(strip.shape);
      document.getElementById("map").scrollIntoView({ block: "nearest" });
    }, { className: "name" }),
    ...parts,
  );
  return item;
}

// Strips of an application that was kept, with what became of each.
function keptStrips(application) {
  const items = make("ol", "", { className: "strips" });
  const lines = application.strips.map((strip) => {
    const state = make("span", strip.state, { className: "state" });
    const mark = (as, words) =>
      button(words, () =>
        careful(async () => {
          const body = { application: application.name, numbers: [strip.number], state: as, was: strip.state };
          const told = await post("/api/strips", body);
          strip.state = as;
          state.textContent = as;
          await refresh();
          say(told.words);
        }), { "aria-label": `${words}: strip ${strip.number}` });
    return stripLine(strip, strip.number, `${strip.plot}: ${strip.words}`, row(state, mark("seen", "I saw it"), mark("touched up", "Touched up"), mark("left", "Leave it")));
  });
  items.append(...lines);
  return items;
}

function before(applications) {
  if (!applications.length) {
    return box();
  }
  const parts = [...applications].reverse().map((one) => {
    return more(`${one.name}${one.day ? `, ${one.day}` : ""}: ${one.strips.length} missed strip${one.strips.length === 1 ? "" : "s"}`, keptStrips(one));
  });
  return more("Applications that were saved", ...parts);
}
