// Tracing: a tap puts a corner down; corners, and the middles between them, are dragged; acres move with the finger.

import { metresPerDegree } from "/own/map.js";

const L = window.L;
const HANDLE_PX = 44;
const LEAST_HANDLE_PX = 16;
const APART_PX = 12;
const BETWEEN_PX = 32;
const BETWEEN_FROM_PX = 64;
const MOST_HANDLES = 80;
const FEW_HANDLES = 12;
const CLOSE_PX = 16;
const MOST_STEPS = 200;
const ACRE_M2 = 4046.8564224;
const ARROWS = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

// Acres of a ring of [longitude, latitude] on a plane that touches the ellipsoid in its middle: within 0.1 % of the
// program's own figure for anything that a plot can be.
export function previewAcres(ring) {
  if (ring.length < 3) {
    return 0;
  }
  const lats = ring.map(([, lat]) => lat);
  const { east, north } = metresPerDegree((Math.min(...lats) + Math.max(...lats)) / 2);
  const [lon0, lat0] = ring[0];
  let twice = 0;
  ring.forEach(([lon, lat], i) => {
    const [nextLon, nextLat] = ring[(i + 1) % ring.length];
    twice += (lon - lon0) * (nextLat - lat0) - (nextLon - lon0) * (lat - lat0);
  });
  return (Math.abs(twice / 2) * east * north) / ACRE_M2;
}

export class Trace {
  // `parts` are the rings of each part, the first its outline, the others holes; here they lie in one row, and
  // `outer` says which of them begin a part.
  constructor(map, { parts = [[[]]], onChange }) {
    this.map = map;
    this.active = 0;
    this.picked = null;
    this.steps = [];
    this.onChange = onChange;
    this.lay(parts);
    this.group = L.featureGroup().addTo(map);
    this.outline = L.polygon([], { className: "trace-line", interactive: false }).addTo(this.group);
    this.handles = L.layerGroup().addTo(map);
    this.tap = (event) => this.add([event.latlng.lng, event.latlng.lat]);
    this.moved = () => {
      const was = [this.crowded, this.unseen];
      this.draw();
      if (was[0] !== this.crowded || was[1] !== this.unseen) {
        this.onChange(this);
      }
    };
    map.on("click", this.tap);
    map.on("moveend", this.moved);
    map.doubleClickZoom.disable();
    map.getContainer().classList.add("tracing");
    this.draw();
    this.onChange(this);
  }

  lay(parts) {
    this.rings = parts.flatMap((rings) => rings.map((ring) => ring.map((corner) => [...corner])));
    this.outer = parts.flatMap((rings) => rings.map((_, index) => index === 0));
    this.active = 0;
  }

  // The rings of each part; those without an area only where all are asked for.
  parts({ all = false } = {}) {
    const found = [];
    let whole = false;
    this.rings.forEach((ring, index) => {
      const counts = all || ring.length > 2;
      if (this.outer[index]) {
        whole = counts;
        if (whole) {
          found.push([ring]);
        }
      } else if (whole && counts) {
        found.at(-1).push(ring);
      }
    });
    return found;
  }

  remember() {
    this.steps.push(JSON.stringify([this.rings, this.outer, this.active]));
    this.steps.splice(0, Math.max(0, this.steps.length - MOST_STEPS));
  }

  changed() {
    this.draw();
    this.onChange(this);
  }

  add(place) {
    this.remember();
    this.rings[this.active].push(place);
    this.picked = [this.active, this.rings[this.active].length - 1];
    this.changed();
  }

  addAtCross() {
    const middle = this.map.getCenter();
    this.add([middle.lng, middle.lat]);
  }

  takeOut() {
    const [ring, index] = this.picked ?? [this.active, this.rings[this.active].length - 1];
    if (this.rings[ring]?.[index]) {
      this.remember();
      this.rings[ring].splice(index, 1);
      this.picked = null;
      this.tidy();
      this.changed();
    }
  }

  // A ring without corners is none, but for the one that is traced.
  tidy() {
    const active = this.rings[this.active];
    const keep = this.rings.map((ring) => ring.length > 0 || ring === active);
    this.outer = this.outer.filter((_, index) => keep[index]);
    this.rings = this.rings.filter((_, index) => keep[index]);
    this.active = Math.max(0, this.rings.indexOf(active));
    this.outer[0] = true;
  }

  // Taps go to a new ring from now on: a hole in the part that is traced, or a part of its own.
  begin({ hole }) {
    if (!this.rings[this.active].length) {
      return;
    }
    this.remember();
    let after = this.active + 1;
    while (after < this.rings.length && !this.outer[after]) {
      after += 1;
    }
    this.rings.splice(after, 0, []);
    this.outer.splice(after, 0, !hole);
    this.active = after;
    this.picked = null;
    this.changed();
  }

  // The ring is traced to its end; one with fewer than three corners goes.
  finish() {
    if (this.rings[this.active].length < 3 && this.rings.length > 1) {
      this.rings.splice(this.active, 1);
      this.outer.splice(this.active, 1);
    }
    this.active = 0;
    this.picked = null;
    this.tidy();
    this.changed();
  }

  // Takes the whole ring of the picked corner out; with an outline go its holes.
  takeRing() {
    const ring = this.picked?.[0] ?? this.active;
    let count = 1;
    while (this.outer[ring] && ring + count < this.rings.length && !this.outer[ring + count]) {
      count += 1;
    }
    this.remember();
    this.rings.splice(ring, count);
    this.outer.splice(ring, count);
    if (!this.rings.length) {
      this.lay([[[]]]);
    }
    this.active = 0;
    this.picked = null;
    this.tidy();
    this.changed();
  }

  put(parts) {
    this.remember();
    this.lay(parts);
    this.picked = null;
    this.changed();
  }

  back() {
    const step = this.steps.pop();
    if (step) {
      [this.rings, this.outer, this.active] = JSON.parse(step);
      this.picked = null;
      this.changed();
    }
    return Boolean(step);
  }

  acres() {
    const part = ([outer, ...holes]) => previewAcres(outer) - holes.reduce((sum, hole) => sum + previewAcres(hole), 0);
    return this.parts().reduce((sum, rings) => sum + part(rings), 0);
  }

  corners() {
    return this.rings.reduce((sum, ring) => sum + ring.length, 0);
  }

  shape() {
    const turned = (ring) => ring.map(([lon, lat]) => [lat, lon]);
    this.outline.setLatLngs(this.parts({ all: true }).map((rings) => rings.map(turned)));
  }

  draw() {
    this.shape();
    this.handles.clearLayers();
    const view = this.map.getBounds().pad(0.05);
    const near = [];
    this.rings.forEach((ring, r) => ring.forEach(([lon, lat], i) => view.contains([lat, lon]) && near.push([r, i])));
    this.crowded = near.length > MOST_HANDLES || this.close(near);
    this.unseen = 0;
    if (this.crowded) {
      return;
    }
    const apart = this.apart(near);
    this.unseen = near.length - apart.length;
    const spots = apart.map(([r, i]) => this.spot(r, i));
    apart.forEach(([r, i], k) => {
      const ring = this.rings[r];
      const nearest = Math.min(...spots.map((spot, other) => (other === k ? Infinity : spot.distanceTo(spots[k]))));
      this.corner(r, i, Math.min(HANDLE_PX, Math.max(LEAST_HANDLE_PX, nearest)));
      if (ring.length > 2 && this.spot(r, (i + 1) % ring.length).distanceTo(spots[k]) >= BETWEEN_FROM_PX) {
        const [lon, lat] = ring[i];
        const [nextLon, nextLat] = ring[(i + 1) % ring.length];
        this.between([(lon + nextLon) / 2, (lat + nextLat) / 2], r, i + 1);
      }
    });
  }

  // Corners that a finger can tell apart, the picked one among them; the others show when one zooms in.
  apart(near) {
    const picked = ([r, i]) => this.picked && this.picked[0] === r && this.picked[1] === i;
    const kept = [];
    for (const corner of [...near.filter(picked), ...near.filter((one) => !picked(one))]) {
      const spot = this.spot(...corner);
      if (kept.every((other) => other.spot.distanceTo(spot) >= APART_PX)) {
        kept.push({ corner, spot });
      }
    }
    return kept.map(({ corner }) => corner);
  }

  // Where a corner lies on the screen, pixels.
  spot(r, i) {
    const [lon, lat] = this.rings[r][i];
    return this.map.latLngToContainerPoint([lat, lon]);
  }

  // Whether most corners lie so close to the next one that no finger can tell them apart.
  close(near) {
    const steps = near.slice(1).map(([r, i], k) => this.spot(r, i).distanceTo(this.spot(...near[k])));
    steps.sort((a, b) => a - b);
    return near.length > FEW_HANDLES && steps[steps.length >> 1] < CLOSE_PX;
  }

  handle(place, look, title, { keyboard, side }) {
    const [lon, lat] = place;
    return L.marker([lat, lon], {
      draggable: true,
      keyboard,
      title,
      alt: title,
      zIndexOffset: keyboard ? 1000 : 0, // a corner lies over the middles beside it
      icon: L.divIcon({ className: `handle ${look}`, iconSize: [side, side] }),
    });
  }

  // What a ring is called, for whoever cannot see it.
  place(r) {
    const part = this.outer.slice(0, r + 1).filter(Boolean).length;
    const hole = this.outer[r] ? "" : "hole, ";
    return part > 1 ? `Part ${part}, ${hole}corner` : hole ? "Hole, corner" : "Corner";
  }

  corner(r, i, side) {
    const chosen = this.picked && this.picked[0] === r && this.picked[1] === i;
    const title = `${this.place(r)} ${i + 1}`;
    const marker = this.handle(this.rings[r][i], chosen ? "corner picked" : "corner", title, { keyboard: true, side });
    marker.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      this.picked = [r, i];
      this.draw();
    });
    marker.on("dragstart", () => this.remember());
    marker.on("drag", () => this.drag(marker, r, i));
    marker.on("dragend", () => this.dropped(r, i));
    marker.addTo(this.handles);
    const element = marker.getElement();
    element.addEventListener("keydown", (event) => this.key(event, marker, r, i));
    if (chosen && this.refocus) {
      this.refocus = false;
      element.focus({ preventScroll: true });
    }
  }

  between(place, r, i) {
    const marker = this.handle(place, "between", "Drag to put a corner here", { keyboard: false, side: BETWEEN_PX });
    marker.on("dragstart", () => {
      this.remember();
      this.rings[r].splice(i, 0, place);
    });
    marker.on("drag", () => this.drag(marker, r, i));
    marker.on("dragend", () => this.dropped(r, i));
    marker.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      this.remember();
      this.rings[r].splice(i, 0, place);
      this.dropped(r, i);
    });
    marker.addTo(this.handles);
  }

  drag(marker, r, i) {
    const { lat, lng } = marker.getLatLng();
    this.rings[r][i] = [lng, lat];
    this.shape();
    this.onChange(this);
  }

  dropped(r, i) {
    this.picked = [r, i];
    this.changed();
  }

  key(event, marker, r, i) {
    const way = ARROWS[event.key];
    if (event.key === "Delete" || event.key === "Backspace") {
      this.picked = [r, i];
      this.takeOut();
    } else if (way) {
      this.remember();
      const by = event.shiftKey ? 10 : 1;
      const at = this.map.latLngToContainerPoint(marker.getLatLng()).add([way[0] * by, way[1] * by]);
      const { lat, lng } = this.map.containerPointToLatLng(at);
      this.rings[r][i] = [lng, lat];
      this.refocus = true;
      this.dropped(r, i);
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }

  end() {
    this.map.off("click", this.tap);
    this.map.off("moveend", this.moved);
    this.map.doubleClickZoom.enable();
    this.map.getContainer().classList.remove("tracing");
    this.group.remove();
    this.handles.remove();
  }
}
