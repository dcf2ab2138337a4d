// What goes in the tank? Touch the plots, say the rates from the label, read the recipe and its cautions.

import { ask, post, send } from "/own/ask.js";
import { book, careful, open, plotsOf, printed, refresh, say } from "/own/book.js";
import { keeper } from "/own/kept.js";
import { box, button, field, list, main, make, more, row, table, tick } from "/own/parts.js";

const last = { plots: [], perAcre: "", tank: "", sump: "", products: [] };

export async function tankPanel() {
  const { labels } = await ask("/api/labels");
  const plots = plotsOf();
  const chosen = last.plots.filter((uid) => plots.some((plot) => plot.uid === uid));
  const boxes = new Map(
    plots.map((plot) => {
      const box_ = tick(`${plot.name}, ${plot.acres_words}`, chosen.includes(plot.uid));
      box_.input.addEventListener("change", () => touch(plot, box_.input.checked));
      return [plot.uid, box_];
    }),
  );
  const total = make("p", "", { className: "big" });
  const shown = () => {
    const some = plots.filter((plot) => chosen.includes(plot.uid));
    total.textContent = some.length ? `${some.length} plot${some.length > 1 ? "s" : ""}, ${some.reduce((sum, plot) => sum + plot.acres, 0).toFixed(2)} ac` : "Touch the plots to spray, on the map or here.";
    book.map.choose(chosen);
    last.plots = [...chosen];
  };
  const touch = (plot, on) => {
    const at = chosen.indexOf(plot.uid);
    if (on && at < 0) {
      chosen.push(plot.uid);
    } else if (!on && at >= 0) {
      chosen.splice(at, 1);
    }
    boxes.get(plot.uid).input.checked = on;
    shown();
  };
  const amounts = {
    perAcre: field("Gallons per acre", { unit: "gal/ac", inputMode: "decimal", placeholder: "15", value: last.perAcre }),
    tank: field("The tank holds, gallons", { unit: "gal", inputMode: "decimal", placeholder: "25", value: last.tank }),
    sump: field("Stays in the sump, gallons (if you know)", { unit: "gal", inputMode: "decimal", value: last.sump }),
  };
  const rates = products(labels);
  const answer = make("div", "", { id: "recipe" });
  const work = () =>
    careful(async () => {
      if (!chosen.length) {
        say("Touch the plots that you mean to spray.", true);
        return;
      }
      Object.assign(last, { perAcre: amounts.perAcre.input.value, tank: amounts.tank.input.value, sump: amounts.sump.input.value, products: rates.typed() });
      answer.replaceChildren();
      const names = chosen.map((uid) => plots.find((plot) => plot.uid === uid).name);
      const body = { plots: names, per_acre: amounts.perAcre.text(), tank: amounts.tank.text(), sump: amounts.sump.text(), products: rates.typed() };
      const told = await post("/api/mix", body);
      if (told.question) {
        question(answer, told, work);
        say("Your label comes first.");
      } else {
        recipe(answer, told, names);
        say("The recipe is ready. Read the cautions with it.");
      }
      answer.scrollIntoView({ block: "start" });
    });
  const leave = () => book.map.choose([]);
  const pick = (shape) => shape.kind === "plot" && touch(shape, !chosen.includes(shape.uid));
  open(
    "tank",
    [
      make("h2", "What goes in the tank?"),
      total,
      ...(plots.length ? [tickBoxes(boxes)] : [make("p", "There is no plot yet. Trace one, or bring a file.")]),
      amounts.perAcre.label,
      amounts.tank.label,
      amounts.sump.label,
      rates.part,
      main("Work it out", work, { disabled: !plots.length }),
      answer,
    ],
    { leave, pick },
  );
  book.map.seeAll();
  shown();
}

function tickBoxes(boxes) {
  const part = make("fieldset");
  part.append(make("legend", "Plots, in the order you drive"), ...[...boxes.values()].map(({ label }) => label));
  return part;
}

function products(labels) {
  const part = make("fieldset");
  const rows = make("div");
  const held = [];
  const add = ({ name = "", rate = "", maximum = "" } = {}) => {
    const fields = {
      name: field("Product, as on your label", { maxLength: 120, value: name }),
      rate: field("Rate from your label", { value: rate, placeholder: "8 fl oz/ac" }),
      maximum: field("Most for one application (if the label says)", { value: maximum, placeholder: "16 fl oz/ac" }),
    };
    const one = box(fields.name.label, fields.rate.label, fields.maximum.label, button("Take it out", () => {
      held.splice(held.indexOf(fields), 1);
      one.remove();
    }));
    one.className = "product";
    held.push(fields);
    rows.append(one);
  };
  last.products.forEach(add);
  const own = labels.map((label) => {
    const range = label.rate_least && label.rate_least !== label.rate_most ? `${label.rate_least} to ${label.rate_most}` : label.rate_most || "no rate";
    return button(`${label.name} (label: ${range})`, () => {
      add({ name: label.name, rate: label.rate_least === label.rate_most ? label.rate_most : "", maximum: label.maximum });
      say(`Copied from your label of ${label.name}. Check it against the label on the jug.`);
    });
  });
  const sheet = make("input", "", { type: "file", accept: ".csv,text/csv" });
  const ask_ = make("label", "A sheet of my labels (CSV)");
  ask_.append(sheet);
  sheet.addEventListener("change", () =>
    careful(async () => {
      const told = await send(`/api/labels?name=${encodeURIComponent(sheet.files[0].name)}`, sheet.files[0]);
      await refresh();
      await tankPanel();
      say(told.words);
    }),
  );
  part.append(
    make("legend", "Products"),
    make("p", "Rates are yours, from your label; the label is the law."),
    rows,
    ...(own.length ? [make("p", "From your own labels:"), row(...own)] : []),
    row(button("Another product", () => add())),
    more("Bring my labels", ask_),
  );
  const typed = () =>
    held
      .map(({ name, rate, maximum }) => ({ name: name.input.value, rate: rate.text(), maximum: maximum.text() }))
      .filter(({ name, rate }) => name || rate);
  return { part, typed };
}

function question(answer, told, again) {
  const reply = (found) =>
    careful(async () => {
      await post("/api/listed", { product: told.product, crop: told.crop, answer: found, was: told.was });
      await refresh(); // undo would take this back next
      await again();
    });
  answer.replaceChildren(
    make("p", told.refused || "Before any amount:", { className: "wrong" }),
    make("p", told.question, { className: "asked" }),
    row(button("Yes, it lists them", () => reply(true)), button("No, it does not", () => reply(false))),
  );
}

function recipe(answer, told, names) {
  answer.replaceChildren(
    make("h3", `Recipe for ${names.join(", ")}`),
    ...told.words.map((words, index) => make("p", words, index ? {} : { className: "asked" })),
    table(told.header, told.rows),
    ...list("Where each load goes", told.stops),
    ...list("Cautions", told.cautions),
    ...list("Notices", told.notices),
    row(printed()),
    keeper(told.token, "Save this recipe as", `${names[0]}, ${new Date().toLocaleDateString("sv")}`),
  );
}
