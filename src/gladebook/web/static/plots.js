// What have I got? All plots with their acres, and one plot in full.

import { ask, post, send } from "/own/ask.js";
import { book, careful, open, printed, refresh, say, shapeOf, take } from "/own/book.js";
import { box, button, choice, field, list, main, make, more, row, table, tick } from "/own/parts.js";
import { traceAnew, traceNew } from "/own/tracing.js";

const L = window.L;

export function listPlots() {
  const all = book.property.shapes;
  const named = (shape) => button(shape.name, () => look(shape.uid), { className: "name" });
  const ground = all.filter((shape) => shape.kind === "plot").map((shape) => [named(shape), shape.acres_words]);
  const drop = dropIn();
  const others = all.filter((shape) => shape.kind !== "plot").map((shape) => [named(shape), shape.kind, shape.acres_words]);
  open(
    "plots",
    [
      make("h2", all.length ? "What have I got?" : "Start here"),
      ...(ground.length ? [make("p", book.property.total_words, { className: "big" }), table(["Plot", "Acres"], ground)] : []),
      ...(others.length ? [make("h3", "Taken out, or left on purpose"), table(["Name", "What", "Acres"], others)] : []),
      ...(all.length ? [] : [make("p", "Go to your place, then trace a plot on the map. Or drop in a file that you have: a GPX walk round the plot, KML, GeoJSON, a shapefile in a zip.")]),
      ...(all.length ? [row(button("See all", () => book.map.seeAll()), printed())] : []),
      drop.part,
      place(!all.length),
      ...list("Notices", book.property.notices, { folded: true }),
    ],
    { pick: (shape) => look(shape.uid) },
  );
  document.getElementById("panel").letIn = drop.bring;
}

function dropIn() {
  const kind = choice("What is in the file?", [
    ["plots", "Plots"],
    ["obstacles", "Ponds, rocks and trees"],
    ["check strips", "Strips left on purpose"],
  ]);
  const needs = {
    crs: field("Coordinate system", { placeholder: "EPSG:26916", maxLength: 200 }),
    layer: field("Layer", { maxLength: 200 }),
    name_field: field("Field with the names", { maxLength: 200 }),
  };
  const repair = tick("Mend lines that cross");
  const replace = tick("Draw those of the same name anew");
  const asked = more("If the file needs it", box(...Object.values(needs).map(({ label }) => label), repair.label, replace.label));
  const input = make("input", "", { type: "file", id: "file" });
  const label = make("label", "Drop a file in here, or choose it");
  label.append(input);
  const bring = (file) => {
    const said = Object.fromEntries(Object.entries(needs).map(([key, { input: typed }]) => [key, typed.value]));
    return letIn(file, { kind: kind.input.value, repair: repair.input.checked, replace: replace.input.checked, ...said }).catch((error) => {
      input.value = "";
      part.open = asked.open = true;
      throw error;
    });
  };
  input.addEventListener("change", () => careful(() => bring(input.files[0])));
  const part = more("Bring a file", box(kind.label, label, asked));
  part.open = !book.property.shapes.length;
  return { part, bring };
}

export async function letIn(file, reading = {}) {
  if (!file) {
    return;
  }
  say(`Reading ${file.name} ...`);
  take(await send(`/api/file?${new URLSearchParams({ name: file.name, ...reading })}`, file));
  book.map.seeAll();
  listPlots();
}

function place(first) {
  const spot = field("Go to a spot: latitude, longitude", { placeholder: "35.1234, -92.5678" });
  const go = () => {
    const [lat, lng] = spot.input.value.split(/[,; ]+/).map(Number);
    if (Number.isFinite(lat) && Number.isFinite(lng) && Math.abs(lat) <= 85 && Math.abs(lng) <= 180) {
      book.map.goTo(lat, lng);
      say("Here it is. Trace your plot, or switch the photo on.");
    } else {
      say("Write the spot as latitude, longitude in degrees, like 35.1234, -92.5678.", true);
    }
  };
  const here = () => {
    say("Asking this device where it is ...");
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        book.map.goTo(coords.latitude, coords.longitude);
        say(`You are here, to within ${Math.round(coords.accuracy / 0.3048)} ft.`);
      },
      () => say("This device does not tell where it is. Write the spot instead.", true),
      { enableHighAccuracy: true, timeout: 20000 },
    );
  };
  const part = more("Go to a place", box(spot.label, row(button("Go there", go), button("Where I am", here))));
  part.open = first;
  return part;
}

export function look(uid) {
  return careful(async () => {
    const shape = shapeOf(uid);
    if (!shape) {
      await refresh();
      listPlots();
      return;
    }
    const told = shape.kind === "plot" ? await ask(`/api/plots/${uid}`) : null;
    book.map.see(shape.geometry);
    open(
      "plots",
      [
        make("h2", shape.name),
        make("p", shape.acres_words, { className: "big" }),
        ...facts(shape).map((words) => make("p", words)),
        ...(told ? planted(shape, told) : []),
        row(
          main("Move its corners", () => traceAnew(shape)),
          ...(told ? [button("Take out a pond or tree", () => traceNew("obstacle"))] : []),
        ),
        ...(told ? [earlier(told), ...list("Kept of it", told.applications, { folded: true })] : []),
        renamed(shape),
        row(printed(), button("Back", listPlots)),
      ],
      { pick: (other) => look(other.uid), leave: () => book.map.extra.clearLayers() },
    );
  });
}

function facts(shape) {
  const words = [];
  if (shape.range_words) {
    words.push(shape.range_words);
  }
  if (shape.taken_words) {
    words.push(`${shape.taken_words} of ponds, rocks and trees is taken out.`);
  }
  if (shape.kind === "obstacle") {
    words.push("Taken out of every plot that it touches.");
  }
  if (shape.kind === "check strip") {
    words.push("Left unsprayed on purpose; it does not count as missed.");
  }
  if (shape.since) {
    words.push(`This line holds since ${shape.since}.`);
  }
  return words;
}

function planted(shape, told) {
  const what = field("What is planted?", { value: told.growing, maxLength: 400, placeholder: "white clover, oat" });
  const known = make("datalist", "", { id: "forages" });
  what.input.setAttribute("list", "forages");
  ask("/api/forages").then(({ forages }) => known.append(...forages.map((name) => make("option", "", { value: name }))), () => null);
  const day = field("Planted on", { type: "date", value: told.planted });
  const save = button("Save what is planted", () =>
    careful(async () => {
      const body = { growing: what.input.value, planted: day.input.value, seen: told.standing };
      const answer = await ask(`/api/plots/${shape.uid}/growing`, { method: "PUT", body });
      await refresh();
      await look(shape.uid);
      say(answer.words);
    }),
  );
  const now = told.entered.length ? told.entered : ["Nothing is entered yet."];
  return [make("h3", "What is planted"), ...now.map((words) => make("p", words)), more("Change what is planted", box(what.label, known, day.label, save))];
}

function earlier(told) {
  if (!told.earlier.length) {
    return make("p", "It has no earlier lines.");
  }
  const rows = told.earlier.map((one) => [
    button(`${one.since} to ${one.until}`, () => {
      book.map.extra.clearLayers();
      L.geoJSON(one.geometry, { interactive: false, style: { className: "earlier-line" } }).addTo(book.map.extra);
      book.map.seeExtra();
      say(`The dotted line held from ${one.since} to ${one.until}: ${one.words}.`);
    }, { className: "name" }),
    one.words,
  ]);
  return more("Its earlier lines", table(["Held", "Acres"], rows));
}

function renamed(shape) {
  const name = field("Another name", { value: shape.name, maxLength: 200 });
  const change = button("Rename", () =>
    careful(async () => {
      take(await ask(`/api/shapes/${shape.uid}`, { method: "PUT", body: { name: name.input.value, mark: shape.mark } }));
      const told = book.property.words;
      await look(shape.uid);
      say(told);
    }),
  );
  const away = button("Take it away", () =>
    careful(async () => {
      take(await ask(`/api/shapes/${shape.uid}?mark=${encodeURIComponent(shape.mark)}`, { method: "DELETE" }));
      const told = book.property.words;
      listPlots();
      say(`${told} Undo brings it back.`);
    }),
  );
  return more("Rename it, or take it away", box(name.label, row(change, away)));
}

export async function undo() {
  const step = book.property.undo?.step;
  if (step === undefined) {
    return "There is nothing to take back.";
  }
  take(await post("/api/undo", { step }));
  const told = book.property.words;
  if (["plots", "trace"].includes(document.getElementById("panel").dataset.panel)) {
    listPlots();
  }
  return told;
}
