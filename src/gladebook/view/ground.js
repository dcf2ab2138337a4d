// What the map in a file and the page of a property draw alike: patterns, ground, missed strips, names.
// Whatever people typed is only ever set as text, never as markup.
"use strict";
window.gladeGround = (function () {
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

  // The patterns of all kinds of ground, put once into the document.
  function addPatterns(looks) {
    const areas = looks.filter(function (look) { return !/line/.test(look.pattern); });
    const store = drawing("svg", { width: 0, height: 0, "aria-hidden": "true" }, [drawing("defs", {}, areas.map(pattern))]);
    store.style.position = "absolute";
    document.body.insertBefore(store, document.body.firstChild);
  }

  const North = L.Control.extend({
    onAdd: function () {
      const box = element("div", "", "north");
      box.appendChild(element("div", "↑"));
      box.appendChild(element("div", "N"));
      box.setAttribute("aria-label", "North is up");
      return box;
    },
  });

  function lines(words) {
    const box = element("div");
    box.appendChild(element("b", words[0]));
    words.slice(1).forEach(function (line) { box.appendChild(element("div", line)); });
    return box;
  }

  // Ground, from the widest to what matters most; a layer for each kind.
  function drawGround(map, data, group) {
    const layers = {};
    data.order.forEach(function (key) {
      if (!data.shapes[key]) return;
      layers[key] = L.geoJSON(data.shapes[key], { interactive: false, style: { className: "ground-" + key } }).addTo(group);
    });
    return layers;
  }

  // Strips by their verdict, the doubtful ones below; numbers are those of the list.
  function drawStrips(map, data, group) {
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
          icon: icon, keyboard: true, title: "Missed strip " + word, alt: "Missed strip " + word, zIndexOffset: kind === "go_look" ? 1000 : 0,
        });
        marker.bindPopup(lines([strip.plot + ", strip " + (index + 1), strip.verdict, strip.words]), { maxWidth: 260 });
        marker.addTo(strips[kind]);
        L.geoJSON(strip.shape, { interactive: false, style: { className: "strip-line ground-" + kind } }).addTo(strips[kind]);
      });
      if (strips[kind]) strips[kind].addTo(group);
    });
    return strips;
  }

  // A name goes above its plot, else below, right or left of it: the first place that is free. Where
  // none is, the name is left out until there is room; a tap on the plot shows it.
  function placeNames(map, labels) {
    const over = document.querySelectorAll(".leaflet-control, .over-map:not([hidden])");
    const taken = Array.from(over, function (control) { return control.getBoundingClientRect(); });
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

  function sample(look) {
    const box = drawing("svg", { width: 46, height: 28, viewBox: "0 0 46 28", "aria-hidden": "true" });
    const line = /line/.test(look.pattern);
    box.appendChild(line
      ? drawing("path", { d: "M2 14 H44", class: "ground-" + look.key })
      : drawing("rect", { x: 1, y: 1, width: 44, height: 26, class: "ground-" + look.key }));
    return box;
  }

  return { element: element, drawing: drawing, addPatterns: addPatterns, North: North, lines: lines, drawGround: drawGround,
    drawStrips: drawStrips, placeNames: placeNames, sample: sample };
})();
