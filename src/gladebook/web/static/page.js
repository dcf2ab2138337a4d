// The page: five buttons, one panel, one line that says what happened. Whatever people can type is set as text.

import { drawCovered, drawShapes, makeMap, photoLayer, seeAll } from "/own/ground.js";
import { drivePanel } from "/own/drive.js";
import { tankPanel } from "/own/tank.js";
import { Trace } from "/own/trace.js";

const L = window.L;
const $ = (id) => document.getElementById(id);
const map = makeMap($("map"));
const shapes = L.featureGroup().addTo(map);
const covered = L.featureGroup().addTo(map);
const photo = photoLayer();
let property = null;
let trace = null;

export function make(tag, words = "", more = {}) {
  const element = document.createElement(tag);
  element.textContent = words;
  for (const [name, value] of Object.entries(more)) {
    if (name === "click") {
      element.addEventListener("click", value);
    } else if (name in element) {
      element[name] = value;
    } else {
      element.setAttribute(name, value);
    }
  }
  return element;
}

export function field(words, more = {}) {
  const label = make("label", words);
  const input = make(more.options ? "select" : "input");
  for (const option of more.options ?? []) {
    input.append(make("option", option.words, { value: option.value }));
  }
  for (const [name, value] of Object.entries(more)) {
    if (name !== "options") {
      input[name] = value;
    }
  }
  label.append(input);
  return { label, input };
}

export function say(words, wrong = false) {
  $("said").textContent = words;
  $("said").className = wrong ? "wrong" : "";
}

export function show(...parts) {
  $("panel").replaceChildren(...parts);
  map.invalidateSize();
}

export async function ask(path, { method = "GET", body = null, raw = null } = {}) {
  const headers = raw || body === null ? {} : { "content-type": "application/json" };
  let answer;
  try {
    answer = await fetch(path, { method, headers, body: raw ?? (body === null ? null : JSON.stringify(body)) });
  } catch {
    throw new Error("The program does not answer. Is it still running? What you drew is still here.");
  }
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    throw new Error(told.error ?? "Something went wrong in the program. Load the page anew.");
  }
  return told;
}

export async function careful(work) {
  try {
    return await work();
  } catch (error) {
    say(error.message, true);
    return null;
  }
}

function take(told) {
  property = told;
  $("name").textContent = told.name;
  document.title = `${told.name} - gladebook`;
  const plots = told.shapes.filter((shape) => shape.kind === "plot");
  $("total").textContent = plots.length ? `${plots.length} plot${plots.length > 1 ? "s" : ""}, ${told.total_words}` : "No plots yet";
  $("go-undo").disabled = told.undo === null;
  $("go-undo").title = told.undo === null ? "" : `Take back: ${told.undo}`;
  drawShapes(map, shapes, told.shapes, pick);
  if (told.words) {
    say(told.words);
  }
}

export const now = () => property;

function stopTracing() {
  if (trace) {
    trace.end();
    trace = null;
  }
  covered.clearLayers();
}

function listPanel() {
  stopTracing();
  const plots = property.shapes;
  const table = make("table");
  table.append(rowOf("th", ["Name", "Acres", ""]));
  for (const shape of plots) {
    const row = rowOf("td", [shape.kind === "plot" ? shape.name : `${shape.name} (${shape.kind})`, shape.acres_words]);
    const cell = make("td");
    cell.append(make("button", "Look", { click: () => pick(shape), "aria-label": `Look at ${shape.name}` }));
    row.append(cell);
    table.append(row);
  }
  show(
    make("h2", plots.length ? "What have I got?" : "Find your place on the map"),
    ...(plots.length
      ? [table, make("button", "Print", { click: () => window.print() })]
      : [make("p", "Move and zoom the map, or switch the photo on. Then trace a plot, or drop in a file that you have.")]),
  );
}

function rowOf(tag, cells) {
  const row = make("tr");
  row.append(...cells.map((words) => make(tag, words)));
  return row;
}

function pick(shape) {
  if (trace) {
    return;
  }
  seeAll(map, L.geoJSON(shape.geometry));
  const edit = make("button", "Move its corners", { click: () => redraw(shape), disabled: !shape.one_part });
  show(
    make("h2", shape.name),
    make("p", shape.acres_words, { className: "big" }),
    make("p", shape.since ? `Boundary since ${shape.since}.` : shape.kind),
    ...(shape.one_part ? [] : [make("p", "It has several parts; draw those in a file.")]),
    rowOfButtons(edit, make("button", "Take it away", { click: () => remove(shape) }), make("button", "Back", { click: listPanel })),
  );
}

function rowOfButtons(...buttons) {
  const row = make("div", "", { className: "row" });
  row.append(...buttons);
  return row;
}

function tracing({ title, corners, holes, fields, save }) {
  stopTracing();
  const acres = make("p", "", { className: "big", id: "traced-acres" });
  const truth = make("p", "");
  const done = make("button", "Save", { className: "first", disabled: true });
  let asked = 0;
  show(
    make("h2", title),
    make("p", "Tap the map for each corner. Drag a corner to move it, or a dashed one to put a corner between."),
    acres,
    truth,
    ...fields,
    rowOfButtons(
      done,
      make("button", "Take a corner out", { click: () => trace.takeOut() }),
      make("button", "Leave it", { click: listPanel }),
    ),
  );
  trace = new Trace(map, {
    corners,
    holes,
    onChange: (it) => {
      const enough = it.corners.length > 2;
      acres.textContent = enough ? `${it.acres().toFixed(2)} ac` : "No area yet";
      done.disabled = !enough;
      asked += 1;
      const mine = asked;
      truth.textContent = "";
      if (enough) {
        window.setTimeout(async () => {
          if (mine === asked) {
            const told = await ask("/api/acres", { method: "POST", body: { rings: it.rings() } }).catch((e) => ({ error: e.message }));
            if (mine === asked) {
              truth.textContent = told.error ?? `Measured: ${told.acres.toFixed(2)} ac`;
              truth.className = told.error ? "wrong" : "";
            }
          }
        }, 250);
      }
    },
  });
  done.addEventListener("click", () =>
    careful(async () => {
      done.disabled = true;
      try {
        take(await save(trace.rings()));
        listPanel();
      } finally {
        done.disabled = false;
      }
    }),
  );
}

function newTrace() {
  const name = field("Name", { maxLength: 200, autocomplete: "off" });
  const kind = field("What is it?", {
    options: [
      { value: "plot", words: "A plot" },
      { value: "obstacle", words: "A pond, rock or tree to take out" },
    ],
  });
  tracing({
    title: "Trace a plot",
    corners: [],
    holes: [],
    fields: [name.label, kind.label],
    save: (rings) => ask("/api/shapes", { method: "POST", body: { name: name.input.value, kind: kind.input.value, rings } }),
  });
}

function redraw(shape) {
  const rings = shape.geometry.type === "MultiPolygon" ? shape.geometry.coordinates[0] : shape.geometry.coordinates;
  const open = rings.map((ring) => ring.slice(0, -1));
  tracing({
    title: `Move the corners of ${shape.name}`,
    corners: open[0],
    holes: open.slice(1),
    fields: [],
    save: (drawn) => ask(`/api/shapes/${shape.uid}`, { method: "PUT", body: { rings: drawn, mark: shape.mark } }),
  });
}

function remove(shape) {
  careful(async () => {
    const mark = encodeURIComponent(shape.mark);
    take(await ask(`/api/shapes/${shape.uid}?mark=${mark}`, { method: "DELETE" }));
    listPanel();
  });
}

function dropFile() {
  stopTracing();
  const kind = field("What is in it?", {
    options: [
      { value: "plots", words: "Plots" },
      { value: "obstacles", words: "Ponds, rocks and trees to take out" },
    ],
  });
  const choose = make("button", "Choose the file", { className: "first", click: () => $("file").click() });
  $("file").onchange = () => careful(() => upload($("file").files[0], kind.input.value === "obstacles"));
  show(
    make("h2", "Drop in a file"),
    make("p", "GeoJSON, KML, a shapefile in a zip, a GPX walk round the plot, and more."),
    kind.label,
    rowOfButtons(choose, make("button", "Leave it", { click: listPanel })),
  );
}

async function upload(file, obstacles) {
  if (!file) {
    return;
  }
  say(`Reading ${file.name} ...`);
  const name = encodeURIComponent(file.name);
  take(await ask(`/api/file?name=${name}&kind=${obstacles ? "obstacles" : "plots"}`, { method: "POST", raw: file }));
  $("file").value = "";
  seeAll(map, shapes);
  listPanel();
}

document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  const file = event.dataTransfer?.files[0];
  if (file && !document.querySelector("#panel [data-drive]")) {
    careful(() => upload(file, false));
  }
});
$("photo").addEventListener("change", () => ($("photo").checked ? photo.addTo(map).bringToBack() : photo.remove()));
$("go-trace").addEventListener("click", newTrace);
$("go-file").addEventListener("click", dropFile);
$("go-tank").addEventListener("click", () => {
  stopTracing();
  careful(() => tankPanel());
});
$("go-drive").addEventListener("click", () => {
  stopTracing();
  drivePanel({ map, draw: (answer) => drawCovered(map, covered, answer), see: (group) => seeAll(map, group) });
});
$("go-undo").addEventListener("click", () =>
  careful(async () => {
    take(await ask("/api/undo", { method: "POST" }));
    listPanel();
  }),
);

careful(async () => {
  take(await ask("/api/property"));
  seeAll(map, shapes);
  listPanel();
});
