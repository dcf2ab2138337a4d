// The map: a sheet ruled in feet, the photo where it is asked for, and shapes with their names as text.

const L = window.L;
const { element, lines, addPatterns, North, drawGround, drawStrips, placeNames } = window.gladeGround;
const WIDE = { lat: 36, lng: -88, zoom: 5 };
const DEEPEST = 22;
const LEAST_SQUARE_PX = 44;
const MOST_NAMES = 60;
const LEAST_NAMED_PX = 24;
const MILE_FT = 5280;
const SQUARES_FT = [5, 10, 20, 50, 100, 200, 500, 1000, ...[1, 2, 5, 10, 20, 50, 100, 200, 500].map((n) => n * MILE_FT)];
const FT_M = 0.3048;
const WGS84_M = 6378137;
const WGS84_E2 = 0.00669437999014;
const CLASSES = { plot: "plot-line", obstacle: "obstacle-line", "check strip": "strip-kept-line" };

// Metres east and north in a degree at a latitude, on the WGS 84 ellipsoid: its radii across and along the meridian
// (formulas from memory; a test holds the acres that come of them to 0.1 % of the geodesic ones).
export function metresPerDegree(lat) {
  const sin = Math.sin((lat * Math.PI) / 180);
  const w = Math.sqrt(1 - WGS84_E2 * sin * sin);
  const degree = Math.PI / 180;
  return { east: (degree * WGS84_M * Math.sqrt(1 - sin * sin)) / w, north: (degree * WGS84_M * (1 - WGS84_E2)) / w ** 3 };
}

export function makeMap(frame) {
  const map = L.map(frame, { maxZoom: DEEPEST, minZoom: 3, zoomSnap: 0.25, zoomControl: true, attributionControl: true });
  map.attributionControl.setPrefix("");
  L.control.scale({ imperial: true, metric: true, maxWidth: 130 }).addTo(map);
  new North({ position: "topright" }).addTo(map);
  const shapes = L.featureGroup().addTo(map);
  const covered = L.featureGroup().addTo(map);
  const extra = L.featureGroup().addTo(map);
  const names = L.layerGroup().addTo(map);
  const state = { drawn: new Map(), chosen: new Set(), photo: null, seen: null, patterns: false };

  const squares = element("div", "", "squares");
  const Told = L.Control.extend({ onAdd: () => squares });
  new Told({ position: "bottomleft" }).addTo(map);

  const rule = () => {
    const middle = map.getCenter();
    const perDegree = metresPerDegree(Math.max(-85, Math.min(85, middle.lat)));
    const pixelM = (perDegree.east * 360) / (256 * 2 ** map.getZoom());
    const feet = SQUARES_FT.find((ft) => (ft * FT_M) / pixelM >= LEAST_SQUARE_PX) ?? SQUARES_FT.at(-1);
    const side = (feet * FT_M) / pixelM;
    const from = map.latLngToContainerPoint(state.seen?.getNorthWest() ?? [WIDE.lat, WIDE.lng]);
    const at = (value) => `${(((value % side) + side) % side).toFixed(1)}px`;
    frame.style.backgroundSize = `${side}px ${side}px`;
    frame.style.backgroundPosition = `${at(from.x)} ${at(from.y)}`;
    const many = feet >= MILE_FT ? `${feet / MILE_FT} mi` : `${feet.toLocaleString("en-US")} ft`;
    squares.textContent = state.photo ? "" : `Each square: ${many}`;
  };

  const nameShapes = () => {
    names.clearLayers();
    const view = map.getBounds();
    const near = [...state.drawn.values()].filter(({ shape, box }) => shape.kind === "plot" && box.isValid() && view.intersects(box));
    if (near.length > MOST_NAMES) {
      return;
    }
    const labels = near
      .filter(({ box }) => map.latLngToContainerPoint(box.getSouthEast()).subtract(map.latLngToContainerPoint(box.getNorthWest())).x >= LEAST_NAMED_PX)
      .map(({ shape, box }) => {
        const mark = state.chosen.has(shape.uid) ? "✓ " : "";
        const label = L.tooltip({ permanent: true, direction: "top", className: "plot-name", offset: [0, 0] })
          .setLatLng(box.getCenter())
          .setContent(lines([mark + shape.name, shape.acres_words]));
        names.addLayer(label);
        return { label, box };
      });
    placeNames(map, labels);
  };
  map.on("move zoom viewreset", rule);
  map.on("moveend zoomend", nameShapes);
  map.setView([WIDE.lat, WIDE.lng], WIDE.zoom, { animate: false });

  const fit = (box, { animate = false } = {}) => {
    if (box.isValid()) {
      map.fitBounds(box, { paddingTopLeft: [28, 84], paddingBottomRight: [28, 58], maxZoom: 20, animate });
    }
  };
  return {
    leaflet: map,
    extra,
    drawShapes(found, onPick) {
      shapes.clearLayers();
      state.drawn.clear();
      for (const shape of found) {
        const layer = L.geoJSON(shape.geometry, { style: { className: CLASSES[shape.kind] } });
        layer.on("click", (event) => {
          L.DomEvent.stopPropagation(event);
          onPick(shape);
        });
        shapes.addLayer(layer);
        state.drawn.set(shape.uid, { shape, layer, box: layer.getBounds() });
      }
      this.choose([...state.chosen]);
      nameShapes();
    },
    choose(uids) {
      state.chosen = new Set(uids);
      for (const [uid, { layer }] of state.drawn) {
        layer.eachLayer((one) => one.getElement()?.classList.toggle("chosen", state.chosen.has(uid)));
      }
      nameShapes();
    },
    drawCovered(answer) {
      covered.clearLayers();
      if (!answer) {
        return;
      }
      if (!state.patterns) {
        addPatterns(answer.looks);
        state.patterns = true;
      }
      drawGround(map, answer, covered);
      drawStrips(map, answer, covered);
    },
    see(geometry) {
      fit(L.geoJSON(geometry).getBounds());
    },
    seeAll() {
      state.seen = shapes.getBounds().isValid() ? shapes.getBounds() : null;
      fit(shapes.getBounds());
      rule();
    },
    seeExtra({ withShapes = false } = {}) {
      const box = extra.getBounds();
      if (withShapes && shapes.getBounds().isValid()) {
        box.extend(shapes.getBounds());
      }
      fit(box);
    },
    goTo(lat, lng, zoom = 18) {
      map.setView([lat, lng], zoom, { animate: false });
    },
    fitAgain() {
      const box = map.getBounds();
      map.invalidateSize({ animate: false });
      map.fitBounds(box, { animate: false });
      nameShapes();
      rule();
    },
    sized() {
      map.invalidateSize({ animate: false });
    },
    photo(told, on, onMissing) {
      state.photo?.remove();
      state.photo = null;
      if (on) {
        const box = told.bounds ? L.latLngBounds([told.bounds[1], told.bounds[0]], [told.bounds[3], told.bounds[2]]) : undefined;
        state.photo = L.tileLayer(told.url, {
          maxZoom: DEEPEST,
          minNativeZoom: told.least_zoom,
          maxNativeZoom: told.most_zoom,
          bounds: box,
          attribution: element("span", told.credit).innerHTML,
        });
        state.photo.on("tileerror", onMissing);
        state.photo.addTo(map);
        if (box && !box.intersects(map.getBounds())) {
          fit(box);
        }
      }
      frame.classList.toggle("photo-on", on);
      rule();
    },
  };
}
