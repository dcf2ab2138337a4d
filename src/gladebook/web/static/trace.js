// Tracing: a tap puts a corner down, corners and the middles between them are dragged, acres move with the finger.

const L = window.L;
const CORNER_PX = 26;
const MIDDLE_PX = 20;
const ACRE_M2 = 4046.8564224;

// Acres on the ellipsoid's own local plane (WGS 84): within 0.1 % of the server's for anything a plot can be.
export function previewAcres(ring) {
  if (ring.length < 3) {
    return 0;
  }
  const a = 6378137;
  const e2 = 0.00669437999014;
  const lat0 = (ring.reduce((sum, p) => sum + p[1], 0) / ring.length) * (Math.PI / 180);
  const w = Math.sqrt(1 - e2 * Math.sin(lat0) ** 2);
  const north = (a * (1 - e2)) / w ** 3;
  const east = (a / w) * Math.cos(lat0);
  let twice = 0;
  for (let i = 0; i < ring.length; i += 1) {
    const [x1, y1] = ring[i];
    const [x2, y2] = ring[(i + 1) % ring.length];
    twice += (x1 - ring[0][0]) * (y2 - ring[0][1]) - (x2 - ring[0][0]) * (y1 - ring[0][1]);
  }
  return (Math.abs(twice / 2) * (Math.PI / 180) ** 2 * north * east) / ACRE_M2;
}

export class Trace {
  constructor(map, { corners = [], holes = [], onChange }) {
    this.map = map;
    this.corners = corners.map(([lon, lat]) => L.latLng(lat, lon));
    this.holes = holes;
    this.onChange = onChange;
    this.picked = -1;
    this.group = L.featureGroup().addTo(map);
    this.outline = L.polygon([], { color: "#d55e00", weight: 3, dashArray: "8 6", fillOpacity: 0.15, interactive: false });
    this.outline.addTo(this.group);
    this.tap = (event) => this.add(event.latlng);
    map.on("click", this.tap);
    map.doubleClickZoom.disable();
    this.draw();
  }

  add(place) {
    this.corners.push(place);
    this.picked = this.corners.length - 1;
    this.draw();
  }

  takeOut() {
    if (this.corners.length) {
      this.corners.splice(this.picked >= 0 ? this.picked : this.corners.length - 1, 1);
      this.picked = this.corners.length - 1;
      this.draw();
    }
  }

  rings() {
    return [this.corners.map((p) => [p.lng, p.lat]), ...this.holes];
  }

  acres() {
    return previewAcres(this.rings()[0]) - this.holes.reduce((sum, hole) => sum + previewAcres(hole), 0);
  }

  draw() {
    for (const layer of this.group.getLayers()) {
      if (layer !== this.outline) {
        this.group.removeLayer(layer);
      }
    }
    this.shape();
    this.corners.forEach((place, index) => this.handle(place, index));
    if (this.corners.length > 2) {
      this.corners.forEach((place, index) => {
        const next = this.corners[(index + 1) % this.corners.length];
        this.middle(L.latLng((place.lat + next.lat) / 2, (place.lng + next.lng) / 2), index + 1);
      });
    }
    this.onChange(this);
  }

  shape() {
    const holes = this.holes.map((hole) => hole.map(([lon, lat]) => [lat, lon]));
    this.outline.setLatLngs([this.corners, ...holes]);
  }

  handle(place, index) {
    const marker = L.marker(place, {
      draggable: true,
      title: `Corner ${index + 1}`,
      icon: L.divIcon({ className: `corner${index === this.picked ? " picked" : ""}`, iconSize: [CORNER_PX, CORNER_PX] }),
    });
    marker.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      this.picked = index;
      this.draw();
    });
    marker.on("drag", () => {
      this.corners[index] = marker.getLatLng();
      this.shape();
      this.onChange(this);
    });
    marker.on("dragend", () => {
      this.picked = index;
      this.draw();
    });
    marker.addTo(this.group);
  }

  middle(place, index) {
    const marker = L.marker(place, {
      draggable: true,
      keyboard: false,
      title: "Drag to put a corner here",
      icon: L.divIcon({ className: "middle", iconSize: [MIDDLE_PX, MIDDLE_PX] }),
    });
    let put = false;
    marker.on("drag", () => {
      if (!put) {
        this.corners.splice(index, 0, marker.getLatLng());
        put = true;
      }
      this.corners[index] = marker.getLatLng();
      this.shape();
      this.onChange(this);
    });
    marker.on("dragend", () => {
      this.picked = index;
      this.draw();
    });
    marker.addTo(this.group);
  }

  end() {
    this.map.off("click", this.tap);
    this.map.doubleClickZoom.enable();
    this.group.remove();
  }
}
