// What goes in the tank?

import { ask, careful, field, make, now, say, show } from "/own/page.js";

export async function tankPanel() {
  const known = (await ask("/api/labels")).labels;
  const plots = now().shapes.filter((shape) => shape.kind === "plot");
  const boxes = plots.map((plot) => {
    const label = make("label", ` ${plot.name}, ${plot.acres_words}`);
    const box = make("input", "", { type: "checkbox", value: plot.name });
    label.prepend(box);
    return { label, box };
  });
  const perAcre = field("Gallons per acre", { placeholder: "15 gal/ac", maxLength: 80 });
  const tank = field("Tank", { placeholder: "25 gal", maxLength: 80 });
  const products = make("div");
  const rows = [];
  const addRow = (name = "", rate = "") => {
    const product = field("Product", { value: name, maxLength: 120, autocomplete: "off" });
    const amount = field("Its rate, from your label", { value: rate, placeholder: "8 fl oz/ac", maxLength: 80 });
    rows.push({ product: product.input, amount: amount.input });
    products.append(product.label, amount.label);
  };
  const mine = known.map((label) => make("button", `Add ${label.name}`, { click: () => addRow(label.name, label.rate_most) }));
  const answer = make("div", "", { id: "recipe" });
  const send = (lists) =>
    careful(async () => {
      const body = {
        plots: boxes.filter(({ box }) => box.checked).map(({ box }) => box.value),
        per_acre: perAcre.input.value,
        tank: tank.input.value,
        products: rows
          .filter(({ product, amount }) => product.value || amount.value)
          .map(({ product, amount }) => ({ name: product.value, rate: amount.value })),
        label_lists: lists,
      };
      if (!body.plots.length) {
        say("Touch the plots that you mean to spray.", true);
        return;
      }
      answer.replaceChildren();
      try {
        recipe(answer, await ask("/api/mix", { method: "POST", body }));
        say("The recipe stands below. Read the cautions.");
      } catch (error) {
        if (!error.message.startsWith("Before any amount")) {
          throw error;
        }
        question(answer, error.message, send);
      }
    });
  show(
    make("h2", "What goes in the tank?"),
    ...(boxes.length ? boxes.map(({ label }) => label) : [make("p", "There is no plot yet. Trace one, or drop in a file.")]),
    perAcre.label,
    tank.label,
    products,
    ...mine,
    make("button", "Add a product", { click: () => addRow() }),
    make("button", "Work it out", { className: "first", click: () => send(null), disabled: !boxes.length }),
    answer,
  );
}

function question(answer, words, send) {
  const asked = words.replace(" Then add --label-lists yes, or --label-lists no.", "");
  answer.replaceChildren(
    make("p", asked, { className: "wrong" }),
    make("button", "Yes, it lists them", { click: () => send(true) }),
    make("button", "No, it does not", { click: () => send(false) }),
  );
}

function recipe(answer, told) {
  const table = make("table");
  const head = make("tr");
  head.append(make("th", "Load"), make("th", "Ground"), make("th", "Fill to"), make("th", "Into it"));
  table.append(head);
  for (const load of told.mix.loads) {
    const row = make("tr");
    row.append(
      make("td", String(load.number)),
      make("td", `${load.acres.toFixed(2)} ac`),
      make("td", `${load.mixed_gal.toFixed(1)} gal`),
      make("td", load.products.map((p) => `${p.name} ${Number(p.amount.toFixed(2))} ${p.unit}`).join("; ") || "water"),
    );
    table.append(row);
  }
  answer.replaceChildren(
    ...told.words.map((words, index) => make("p", words, index ? {} : { className: "big" })),
    table,
    ...list("Notices", told.mix.notices),
    ...list("Cautions", told.mix.cautions),
    make("button", "Print", { click: () => window.print() }),
  );
}

export function list(title, sentences) {
  if (!sentences.length) {
    return [];
  }
  const items = make("ul");
  items.append(...sentences.map((words) => make("li", words)));
  return [make("h3", title), items];
}
