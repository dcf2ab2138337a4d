// How did I do? Drop the track in, trim the ride from the truck, say how wide the boom is, look.

import { ask, careful, field, make, say, show } from "/own/page.js";
import { list } from "/own/tank.js";

const L = window.L;

export function drivePanel({ map, draw, see }) {
  const tracks = [];
  const way = L.featureGroup().addTo(map);
  const used = field("Gallons that left the tank (if you know)", { placeholder: "28 gal", maxLength: 80 });
  const perAcre = field("Gallons per acre", { placeholder: "15 gal/ac", maxLength: 80 });
  const boom = field("How wide is the ground that the boom covers?", { placeholder: "12 ft", maxLength: 80 });
  const behind = field("How far behind the phone is the boom?", { placeholder: "6 ft", maxLength: 80 });
  const start = field("Leave out the ride before", { type: "range", min: 0, max: 1000, value: 0, disabled: true });
  const end = field("Leave out the ride after", { type: "range", min: 0, max: 1000, value: 1000, disabled: true });
  const times = make("p", "");
  const found = make("p", "No track yet.");
  const bar = make("progress", "", { max: 1, value: 0, hidden: true, "aria-label": "How far it is" });
  const stop = make("button", "Stop", { hidden: true });
  const answer = make("div", "", { id: "how" });
  const chooser = make("input", "", { type: "file", "aria-label": "Track", hidden: true });

  const span = () => {
    const [first] = tracks;
    const from = (first.seconds * start.input.value) / 1000;
    const until = (first.seconds * end.input.value) / 1000;
    return { from, until };
  };
  const moment = (seconds) => {
    const [first] = tracks;
    const zone = first.clock === "utc" ? "" : "Z";
    const text = new Date(Date.parse(first.start + zone) + seconds * 1000).toISOString();
    return first.clock === "utc" ? text.replace("Z", "+00:00") : text.replace("Z", "");
  };
  const drawWay = () => {
    way.clearLayers();
    const { from, until } = tracks[0].seconds ? span() : { from: 0, until: Infinity };
    for (const track of tracks) {
      const kept = track.way.filter(([, , at]) => at === null || (at >= from && at <= until)).map(([lat, lon]) => [lat, lon]);
      L.polyline(track.way.map(([lat, lon]) => [lat, lon]), { color: "#666", weight: 1, dashArray: "3 5", interactive: false }).addTo(way);
      L.polyline(kept, { color: "#000", weight: 2, interactive: false }).addTo(way);
    }
    if (tracks.length === 1 && tracks[0].seconds) {
      times.textContent = `Kept: ${(from / 60).toFixed(1)} to ${(until / 60).toFixed(1)} min of ${(tracks[0].seconds / 60).toFixed(1)} min.`;
    }
  };
  const take = async (file) => {
    if (!file) {
      return;
    }
    say(`Reading ${file.name} ...`);
    const track = await ask(`/api/tracks?name=${encodeURIComponent(file.name)}`, { method: "POST", raw: file });
    tracks.push(track);
    found.textContent = tracks.map((t) => `${t.name}: ${t.points.toLocaleString("en-US")} points${t.boom_recorded ? "" : ", no boom recorded"}`).join("; ");
    const trims = tracks.length === 1 && Boolean(track.seconds);
    start.input.disabled = !trims;
    end.input.disabled = !trims;
    if (tracks.length > 1) {
      times.textContent = "The sliders trim a single track only.";
    }
    drawWay();
    see(way);
    say(`${track.name} is in.`);
  };
  chooser.addEventListener("change", () => careful(() => take(chooser.files[0])));
  for (const slider of [start.input, end.input]) {
    slider.addEventListener("input", drawWay);
  }

  const check = (save) =>
    careful(async () => {
      if (!tracks.length) {
        say("Drop in the track first.", true);
        return;
      }
      const trimmed = tracks.length === 1 && tracks[0].seconds;
      const { from, until } = trimmed ? span() : {};
      const body = {
        tracks: tracks.map((track) => track.token),
        boom: boom.input.value,
        behind: behind.input.value,
        used: used.input.value,
        per_acre: perAcre.input.value,
        start: trimmed && start.input.value > 0 ? moment(from) : "",
        end: trimmed && end.input.value < 1000 ? moment(until) : "",
        save,
      };
      const told = await streamed(body, { bar, stop });
      if (told === null) {
        say("Stopped.");
        return;
      }
      draw(told.map);
      way.clearLayers();
      shown(answer, told, { map, check, save });
      say(told.kept || told.words[0]);
    });

  const box = make("div", "", { "data-drive": "yes" });
  box.append(
    make("button", "Choose the track", { className: "first", click: () => chooser.click() }),
    chooser,
    found,
    start.label,
    end.label,
    times,
    used.label,
    perAcre.label,
    boom.label,
    behind.label,
    make("button", "Look how it went", { className: "first", click: () => check("") }),
    bar,
    stop,
    answer,
  );
  show(make("h2", "How did I do?"), box);
}

// Lines of JSON come in as the work goes on; the last one is the answer.
async function streamed(body, { bar, stop }) {
  const control = new AbortController();
  bar.hidden = false;
  stop.hidden = false;
  stop.onclick = () => control.abort();
  try {
    const answer = await fetch("/api/check", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
      signal: control.signal,
    });
    if (!answer.ok) {
      throw new Error((await answer.json()).error);
    }
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    for (;;) {
      const { value, done } = await reader.read();
      rest += value ?? "";
      const lines = rest.split("\n");
      rest = lines.pop();
      for (const line of lines) {
        const told = JSON.parse(line);
        if (told.error) {
          throw new Error(told.error);
        }
        if (told.answer) {
          return told.answer;
        }
        bar.value = told.share;
        say(`${told.what} ...`);
      }
      if (done) {
        throw new Error("The answer broke off. Do it again.");
      }
    }
  } catch (error) {
    if (error.name === "AbortError") {
      return null;
    }
    throw error;
  } finally {
    bar.hidden = true;
    stop.hidden = true;
  }
}

function shown(answer, told, { map, check, save }) {
  const strips = told.map.strips.map((strip, index) => {
    const row = make("li");
    row.append(
      make("button", `${index + 1}. ${strip.plot}`, { click: () => map.fitBounds(L.geoJSON(strip.shape).getBounds(), { maxZoom: 20, animate: false }) }),
      make("span", ` ${strip.verdict}: ${strip.words}`),
    );
    if (save) {
      row.append(
        make("button", "I saw it", {
          click: () =>
            careful(async () => {
              const body = { application: save, numbers: [index + 1], state: "seen" };
              say((await ask("/api/strips", { method: "POST", body })).words);
            }),
        }),
      );
    }
    return row;
  });
  const strip = make("ul");
  strip.append(...strips);
  const name = field("Keep it under this name", { maxLength: 200, autocomplete: "off" });
  const legend = make("ul");
  legend.append(...told.map.looks.filter((look) => told.map.shapes[look.key] || look.size).map((look) => make("li", `${look.word}${look.size ? `, ${look.size}` : ""}: ${look.meaning}`)));
  answer.replaceChildren(
    ...told.words.map((words, index) => make("p", words, index ? {} : { className: "big" })),
    ...(strips.length ? [make("h3", "Missed strips"), strip] : []),
    make("h3", "On the map"),
    legend,
    ...list("Assumed", told.assumptions),
    ...list("Notices", told.notices),
    ...(save ? [] : [name.label, make("button", "Keep it", { click: () => check(name.input.value) })]),
    make("button", "Print", { click: () => window.print() }),
  );
}
