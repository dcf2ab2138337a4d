// Pieces of the panel. Whatever people can type is only ever set as text, never as markup.

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
  if (tag === "button") {
    element.type = "button";
  }
  return element;
}

export const button = (words, click, more = {}) => make("button", words, { click, ...more });
export const main = (words, click, more = {}) => button(words, click, { className: "main", ...more });

export function box(...parts) {
  const element = make("div");
  element.append(...parts);
  return element;
}

export function row(...parts) {
  const element = box(...parts);
  element.className = "row";
  return element;
}

// A question with its field; `unit` is what a bare number means, as the question says.
export function field(words, { unit = "", hint = "", ...more } = {}) {
  const label = make("label", words);
  const input = make("input", "", { maxLength: 80, autocomplete: "off", ...more });
  label.append(input);
  if (hint) {
    label.append(make("small", hint));
  }
  const text = () => {
    const typed = input.value.trim();
    return unit && /^[\d.,/ ]+$/.test(typed) ? `${typed} ${unit}` : typed;
  };
  return { label, input, text };
}

export function choice(words, options) {
  const label = make("label", words);
  const input = make("select");
  for (const [value, said] of options) {
    input.append(make("option", said, { value }));
  }
  label.append(input);
  return { label, input };
}

export function tick(words, checked = false) {
  const label = make("label", "", { className: "tick" });
  const input = make("input", "", { type: "checkbox", checked });
  label.append(input, make("span", words));
  return { label, input };
}

export function more(words, ...parts) {
  const element = make("details");
  element.append(make("summary", words), ...parts);
  return element;
}

export function list(title, sentences, { folded = false } = {}) {
  if (!sentences.length) {
    return [];
  }
  const items = make("ul");
  items.append(...sentences.map((words) => make("li", words)));
  return folded ? [more(title, items)] : [make("h3", title), items];
}

export function table(header, rows) {
  const element = make("table");
  const head = make("tr");
  head.append(...header.map((words) => make("th", words, { scope: "col" })));
  const top = make("thead");
  top.append(head);
  const body = make("tbody");
  for (const cells of rows) {
    const line = make("tr");
    const put = (cell, index) => {
      const one = make(index ? "td" : "th", typeof cell === "string" ? cell : "", index ? {} : { scope: "row" });
      if (typeof cell !== "string") {
        one.append(cell);
      }
      return one;
    };
    line.append(...cells.map(put));
    body.append(line);
  }
  element.append(top, body);
  const wide = box(element);
  wide.className = "wide";
  return wide;
}
