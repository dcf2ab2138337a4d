// The map: a blank grid with a scale, the photo where it is asked for, and shapes with their names as text.

const L = window.L;
const PHOTO = "https://basemap.nationalmap.gov/arcgis/rest/services/USGSImageryOnly/MapServer/tile/{z}/{y}/{x}";
const WIDE = { lat: 36, lng: -88, zoom: 5 };

const Grid = L.GridLayer.extend({
  createTile() {
    const tile = document.createElement("div");
    tile.className = "grid-tile";
    return tile;
  },
});

export function makeMap(element) {
  const map = L.map(element, { maxZoom: 21, zoomControl: true, attributionControl: true });
  map.attributionControl.setPrefix("Leaflet");
  new Grid({ maxZoom: 21 }).addTo(map);
  L.control.scale({ metric: true, imperial: true, maxWidth: 140 }).addTo(map);
  map.setView([WIDE.lat, WIDE.lng], WIDE.zoom);
  return map;
}

export function photoLayer() {
  return L.tileLayer(PHOTO, {
    maxZoom: 21,
    maxNativeZoom: 16,
    attribution: "Photo: U.S. Geological Survey, public domain",
  });
}

export function textElement(words, className = "") {
  const element = document.createElement("span");
  element.className = className;
  element.textContent = words;
  return element;
}

const LOOKS = {
  plot: { color: "#0b3d2e", weight: 3, fillColor: "#009e73", fillOpacity: 0.12 },
  obstacle: { color: "#0072b2", weight: 3, dashArray: "6 6", fillColor: "#0072b2", fillOpacity: 0.25 },
  "check strip": { color: "#cc79a7", weight: 3, dashArray: "2 6", fillColor: "#cc79a7", fillOpacity: 0.2 },
};

export function drawShapes(map, group, shapes, onPick) {
  group.clearLayers();
  for (const shape of shapes) {
    const layer = L.geoJSON(shape.geometry, { style: LOOKS[shape.kind] });
    layer.bindTooltip(textElement(`${shape.name}, ${shape.acres_words}`), { sticky: true });
    layer.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      onPick(shape);
    });
    group.addLayer(layer);
  }
}

export function seeAll(map, group) {
  const box = group.getBounds();
  if (box.isValid()) {
    map.fitBounds(box, { padding: [30, 30], maxZoom: 19, animate: false });
  }
}

// Patterns, so that no kind of ground is told by colour alone.
const MARKS = {
  wash: "M0,10 L10,0",
  bold: "M0,10 L10,0 M-2,2 L2,-2 M8,12 L12,8",
  faint: "M0,10 L10,0",
  upright: "M5,0 L5,10",
  cross: "M0,10 L10,0 M0,0 L10,10",
  level: "M0,5 L10,5",
  dots: "M5,4 L5,6",
  checks: "M0,0 L5,0 M5,5 L10,5",
};

function pattern(map, look) {
  const svg = map.getPanes().overlayPane.querySelector("svg");
  if (!svg || !MARKS[look.pattern]) {
    return look.colour;
  }
  const id = `look-${look.key}`;
  if (!svg.querySelector(`#${id}`)) {
    const space = "http://www.w3.org/2000/svg";
    const made = document.createElementNS(space, "pattern");
    made.setAttribute("id", id);
    made.setAttribute("patternUnits", "userSpaceOnUse");
    made.setAttribute("width", "10");
    made.setAttribute("height", "10");
    const line = document.createElementNS(space, "path");
    line.setAttribute("d", MARKS[look.pattern]);
    line.setAttribute("stroke", look.colour);
    line.setAttribute("stroke-width", look.pattern === "bold" || look.pattern === "cross" ? "3" : "1.6");
    made.append(line);
    svg.prepend(made);
  }
  return `url(#${id})`;
}

export function drawCovered(map, group, covered) {
  group.clearLayers();
  const looks = Object.fromEntries(covered.looks.map((look) => [look.key, look]));
  for (const key of covered.order) {
    const shape = covered.shapes[key];
    if (!shape) {
      continue;
    }
    const look = looks[key];
    const line = look.pattern.endsWith("line");
    const layer = L.geoJSON(shape, {
      style: line
        ? { color: look.colour, weight: 1.5, dashArray: look.pattern === "line" ? null : "4 5" }
        : { color: look.colour, weight: 1, fillColor: look.colour, fillOpacity: look.pattern === "plain" ? 0.45 : 0.9 },
      interactive: false,
    }).addTo(group);
    if (!line) {
      layer.setStyle({ fillColor: pattern(map, look) });
    }
  }
  covered.strips.forEach((strip, index) => {
    const look = looks[strip.kind];
    L.geoJSON(strip.shape, { style: { color: look.colour, weight: 3, fillColor: look.colour, fillOpacity: 0.5 } }).addTo(group);
    L.marker([strip.lat, strip.lon], {
      icon: L.divIcon({ className: "", iconSize: null, html: textElement(String(index + 1), "strip-number") }),
      keyboard: false,
    }).addTo(group);
  });
}
