// Draws the page from the data in it. Whatever people typed is only ever set as text, never as markup.
"use strict";
(function () {
  const data = JSON.parse(document.getElementById("data").textContent);
  const SVG = "http://www.w3.org/2000/svg";

  function element(name, words, className) {
    const made = document.createElement(name);
    if (words !== undefined) made.textContent = words;
    if (className) made.className = className;
    return made;
  }

  function drawing(name, attributes, inside) {
    const made = document.createElementNS(SVG, name);
    for (const key in attributes) made.setAttribute(key, attributes[key]);
    (inside || []).forEach(function (child) { made.appendChild(child); });
    return made;
  }

  // One pattern for each kind of ground; map and key share them.
  function pattern(look) {
    const box = { x: 0, y: 0, width: 10, height: 10 };
    const marks = {
      plain: [drawing("rect", Object.assign({ fill: look.colour, "fill-opacity": 0.5 }, box))],
      wash: [drawing("rect", Object.assign({ fill: "#ffffff", "fill-opacity": 0.6 }, box)),
        drawing("rect", Object.assign({ fill: look.colour, "fill-opacity": 0.22 }, box))],
      bold: [drawing("rect", Object.assign({ fill: "#ffffff" }, box)),
        drawing("rect", Object.assign({ fill: look.colour, "fill-opacity": 0.35 }, box)),
        drawing("path", { d: "M-2 12 L12 -2 M-2 2 L2 -2 M8 12 L12 8", stroke: look.colour, "stroke-width": 3.2 })],
      faint: [drawing("rect", Object.assign({ fill: "#ffffff", "fill-opacity": 0.35 }, box)),
        drawing("path", { d: "M3 7 L7 3", stroke: look.colour, "stroke-width": 1 })],
      upright: [drawing("rect", Object.assign({ fill: "#ffffff", "fill-opacity": 0.85 }, box)),
        drawing("path", { d: "M2.5 0 V10 M7.5 0 V10", stroke: look.colour, "stroke-width": 2.4 })],
      cross: [drawing("rect", Object.assign({ fill: look.colour, "fill-opacity": 0.25 }, box)),
        drawing("path", { d: "M0 0 L10 10 M10 0 L0 10", stroke: look.colour, "stroke-width": 1.5 })],
      level: [drawing("rect", Object.assign({ fill: look.colour, "fill-opacity": 0.3 }, box)),
        drawing("path", { d: "M0 2.5 H10 M0 7.5 H10", stroke: look.colour, "stroke-width": 2 })],
      checks: [drawing("rect", Object.assign({ fill: "#ffffff", "fill-opacity": 0.75 }, box)),
        drawing("path", { d: "M0 0 H5 V5 H0 Z M5 5 H10 V10 H5 Z", fill: look.colour, "fill-opacity": 0.75 })],
      dots: [drawing("rect", Object.assign({ fill: "#ffffff", "fill-opacity": 0.75 }, box)),
        drawing("circle", { cx: 2.5, cy: 2.5, r: 1.4, fill: "#555" }),
        drawing("circle", { cx: 7.5, cy: 7.5, r: 1.4, fill: "#555" })],
    };
    return drawing("pattern", Object.assign({ id: "pattern-" + look.key, patternUnits: "userSpaceOnUse" }, box),
      marks[look.pattern]);
  }

  const areas = data.looks.filter(function (look) { return !/line/.test(look.pattern); });
  const store = drawing("svg", { width: 0, height: 0, "aria-hidden": "true" }, [drawing("defs", {}, areas.map(pattern))]);
  store.style.position = "absolute";
  document.body.insertBefore(store, document.body.firstChild);

  const map = L.map("map", { zoomSnap: 0.25, maxZoom: 22, minZoom: 3, zoomControl: true, attributionControl: true });
  map.attributionControl.setPrefix("");
  L.control.scale({ imperial: true, metric: true, maxWidth: 140 }).addTo(map);
  const North = L.Control.extend({
    onAdd: function () {
      const box = element("div", "", "north");
      box.appendChild(element("div", "↑"));
      box.appendChild(element("div", "N"));
      box.setAttribute("aria-label", "North is up");
      return box;
    },
  });
  new North({ position: "topright" }).addTo(map);

  // Ground, from the widest to what matters most.
  const layers = {};
  data.order.forEach(function (key) {
    if (!data.shapes[key]) return;
    layers[key] = L.geoJSON(data.shapes[key], { interactive: false, style: { className: "ground-" + key } }).addTo(map);
  });

  function lines(words) {
    const box = element("div");
    box.appendChild(element("b", words[0]));
    words.slice(1).forEach(function (line) { box.appendChild(element("div", line)); });
    return box;
  }

  const outline = L.featureGroup();
  const ground = L.featureGroup();
  const labels = [];
  data.plots.forEach(function (plot) {
    const drawn = L.geoJSON(plot.shape, { style: { className: "plot-line" } });
    drawn.bindPopup(lines(plot.words), { maxWidth: 260 });
    drawn.addTo(outline);
    drawn.addTo(ground);
    const label = L.tooltip({ permanent: true, direction: "top", className: "plot-name", offset: [0, 0] })
      .setLatLng(drawn.getBounds().getCenter())
      .setContent(lines([plot.words[0], plot.words[1]]));
    label.addTo(outline);
    labels.push({ label: label, box: drawn.getBounds() });
  });

  // A name goes above its plot, else below, right or left of it: the first place that is free. Where
  // none is, the name is left out until there is room; a tap on the plot shows it.
  function placeNames() {
    const taken = [];
    const sheet = map.getContainer().getBoundingClientRect();
    map.getContainer().classList.toggle("far", map.getZoom() < 17.5);
    labels.forEach(function (item) {
      const middle = item.box.getCenter();
      const tries = [["top", [item.box.getNorth(), middle.lng]], ["bottom", [item.box.getSouth(), middle.lng]],
        ["right", [middle.lat, item.box.getEast()]], ["left", [middle.lat, item.box.getWest()]]];
      const shown = item.label.getElement();
      if (!shown) return;
      shown.style.visibility = "";
      const free = tries.some(function (one) {
        item.label.options.direction = one[0];
        item.label.setLatLng(one[1]);
        const r = shown.getBoundingClientRect();
        const inside = r.left >= sheet.left && r.right <= sheet.right && r.top >= sheet.top && r.bottom <= sheet.bottom;
        const clash = taken.some(function (t) {
          return r.left < t.right && t.left < r.right && r.top < t.bottom && t.top < r.bottom;
        });
        if (inside && !clash) taken.push(r);
        return inside && !clash;
      });
      if (!free) shown.style.visibility = "hidden";
    });
  }
  outline.addTo(map);

  // Strips by their verdict, the doubtful ones below; numbers are those of the list.
  const strips = {};
  const marks = { go_look: "", cant_tell: "?", boom_off: "" };
  ["cant_tell", "boom_off", "go_look"].forEach(function (kind) {
    data.strips.forEach(function (strip, index) {
      if (strip.kind !== kind) return;
      if (!strips[kind]) strips[kind] = L.featureGroup();
      const word = String(index + 1) + marks[kind];
      const icon = L.divIcon({ className: "strip-number " + kind, iconSize: [26, 26], html: element("span", word),
        iconAnchor: kind === "boom_off" ? [13, 38] : [13, 13] });
      const marker = L.marker([strip.lat, strip.lon], {
        icon: icon, keyboard: true, alt: "Missed strip " + word, zIndexOffset: kind === "go_look" ? 1000 : 0,
      });
      marker.bindPopup(lines([strip.plot + ", strip " + (index + 1), strip.verdict, strip.words]), { maxWidth: 260 });
      marker.addTo(strips[kind]);
      L.geoJSON(strip.shape, { interactive: false, style: { className: "strip-line ground-" + kind } }).addTo(strips[kind]);
    });
    if (strips[kind]) {
      strips[kind].addTo(map);
      layers[kind] = strips[kind];
    }
  });
  map.fitBounds(ground.getBounds(), { paddingTopLeft: [24, 56], paddingBottomRight: [24, 40] });

  map.on("zoomend moveend", placeNames);
  placeNames();

  // The key is the switchboard too.
  function sample(look) {
    const box = drawing("svg", { width: 46, height: 28, viewBox: "0 0 46 28", "aria-hidden": "true" });
    const line = /line/.test(look.pattern);
    box.appendChild(line
      ? drawing("path", { d: "M2 14 H44", class: "ground-" + look.key })
      : drawing("rect", { x: 1, y: 1, width: 44, height: 26, class: "ground-" + look.key }));
    return box;
  }

  const switches = document.getElementById("switches");
  function addSwitch(words, meaning, picture, on, change) {
    const label = element("label");
    const input = element("input");
    input.type = "checkbox";
    input.checked = on;
    input.addEventListener("change", function () { change(input.checked); });
    const text = element("span");
    text.appendChild(element("b", words));
    text.appendChild(element("small", meaning));
    label.append(input, picture, text);
    switches.appendChild(label);
    return label;
  }
  function show(layer) {
    return function (on) { if (on) layer.addTo(map); else layer.remove(); };
  }
  data.looks.forEach(function (look) {
    if (layers[look.key]) addSwitch(look.word + (look.size ? " " + look.size : ""), look.meaning, sample(look), true, show(layers[look.key]));
  });
  const frame = drawing("svg", { width: 46, height: 28, "aria-hidden": "true" },
    [drawing("rect", { x: 3, y: 3, width: 40, height: 22, class: "plot-line" })]);
  addSwitch("Plots", "boundaries, names and acres", frame, true, function (on) {
    show(outline)(on);
    placeNames();
  });
  const photo = L.tileLayer(data.photo.url, { attribution: data.photo.credit, maxNativeZoom: 16, maxZoom: 22, opacity: 0.85 });
  const sky = drawing("svg", { width: 46, height: 28, "aria-hidden": "true" },
    [drawing("path", { d: "M4 24 L16 8 L26 18 L32 12 L42 24 Z", fill: "none", stroke: "#1c1a17", "stroke-width": 2 })]);
  addSwitch("Aerial photo", "needs internet; off by itself", sky, false, show(photo)).className = "online";

  document.querySelectorAll("[data-strip]").forEach(function (button) {
    button.addEventListener("click", function () {
      const strip = data.strips[Number(button.dataset.strip)];
      map.fitBounds(L.geoJSON(strip.shape).getBounds(), { padding: [60, 60], maxZoom: 20 });
      document.getElementById("map").scrollIntoView({ block: "nearest" });
    });
  });
  // Paper has another shape than the screen: take its size first, then fit again, and back afterwards.
  function fitTo(paper) {
    document.body.classList.toggle("paper", paper);
    map.invalidateSize({ animate: false });
    map.fitBounds(ground.getBounds(), { paddingTopLeft: [24, 56], paddingBottomRight: [24, 56], animate: false });
  }
  window.addEventListener("beforeprint", function () { fitTo(true); });
  window.addEventListener("afterprint", function () { fitTo(false); });
  document.documentElement.dataset.drawn = "yes";
})();
