// Draws the page from the data in it; what it shares with the page of a property is in ground.js.
"use strict";
(function () {
  const data = JSON.parse(document.getElementById("data").textContent);
  const { element, drawing, lines, sample } = window.gladeGround;
  window.gladeGround.addPatterns(data.looks);

  const map = L.map("map", { zoomSnap: 0.25, maxZoom: 22, minZoom: 3, zoomControl: true, attributionControl: true });
  map.attributionControl.setPrefix("");
  L.control.scale({ imperial: true, metric: true, maxWidth: 140 }).addTo(map);
  new window.gladeGround.North({ position: "topright" }).addTo(map);
  const layers = window.gladeGround.drawGround(map, data, map);

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

  function placeNames() { window.gladeGround.placeNames(map, labels); }
  outline.addTo(map);
  Object.assign(layers, window.gladeGround.drawStrips(map, data, map));
  map.fitBounds(ground.getBounds(), { paddingTopLeft: [24, 56], paddingBottomRight: [24, 40] });

  map.on("zoomend moveend", placeNames);
  placeNames();

  // The key is the switchboard too.
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
