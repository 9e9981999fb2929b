// A photo in which a person shows the piece: a tap on its middle, then one on its edge, which can be drawn afterwards.

const NS = "http://www.w3.org/2000/svg";
const shows = new WeakMap(); // root element -> Show

function make(name, attributes, parent) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent.appendChild(made);
  return made;
}

class Show {
  constructor(root) {
    this.root = root;
    this.told = document.createElement("p");
    this.told.setAttribute("role", "status");
    this.svg = document.createElementNS(NS, "svg");
    this.svg.setAttribute("role", "img");
    this.bar = document.createElement("div");
    this.bar.className = "doings";
    root.append(this.told, this.svg, this.bar);
    [this.again, this.hand, this.go] = ["again", "hand", "count"].map((name) => {
      const button = document.createElement("button");
      Object.assign(button, { type: "button", className: name });
      this.bar.appendChild(button);
      return button;
    });
    this.again.addEventListener("click", () => this.begin());
    for (const button of [this.hand, this.go]) {
      const hand = button === this.hand;
      button.addEventListener("click", () => this.send("shown", { ...this.middle, radius: this.radius, hand }));
    }
    this.svg.addEventListener("pointerdown", (event) => this.down(event));
    this.svg.addEventListener("pointermove", (event) => this.held && this.move(event));
    for (const kind of ["pointerup", "pointercancel"]) this.svg.addEventListener(kind, () => (this.held = false));
    this.svg.addEventListener("click", (event) => this.tap(event));
  }

  show(data, send) {
    this.send = send;
    const other = this.data?.picture !== data.picture;
    this.data = data;
    this.again.textContent = data.words.again;
    this.hand.textContent = data.words.hand;
    this.go.textContent = data.words.count;
    this.svg.setAttribute("viewBox", `0 0 ${data.width} ${data.height}`);
    this.svg.setAttribute("aria-label", data.words.picture);
    if (other) this.begin();
  }

  begin() {
    this.middle = this.radius = null;
    this.draw();
  }

  at({ clientX, clientY }) {
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return { x, y };
  }

  away({ x, y }) {
    return Math.hypot(x - this.middle.x, y - this.middle.y);
  }

  /** A finger near the line takes hold of it; elsewhere it scrolls the page. */
  down(event) {
    const grain = this.data.width / this.svg.getBoundingClientRect().width;
    this.held = this.radius !== null && Math.abs(this.away(this.at(event)) - this.radius) < 24 * grain;
    if (this.held) this.svg.setPointerCapture(event.pointerId);
  }

  move(event) {
    this.radius = this.away(this.at(event));
    this.draw();
  }

  tap(event) {
    const at = this.at(event);
    if (this.middle === null) this.take(at);
    else if (this.radius === null || !this.held) this.radius = this.away(at);
    this.draw();
  }

  /** The first tap: inside of a line that was found it is the piece, elsewhere the piece's middle. */
  take(at) {
    const inside = this.lines.findIndex((line) => line.isPointInFill(new DOMPoint(at.x, at.y)));
    this.middle = at;
    if (inside < 0) return;
    const points = this.data.outlines[inside];
    const mean = (axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length;
    this.middle = { x: mean(0), y: mean(1) };
    this.radius = points.reduce((sum, [x, y]) => sum + this.away({ x, y }), 0) / points.length;
  }

  draw() {
    const { words, width, height, picture } = this.data;
    const grain = width / (this.svg.getBoundingClientRect().width || width);
    this.told.textContent = this.middle !== null ? words.edge : this.data.outlines.length ? words.found : words.middle;
    this.go.disabled = this.hand.disabled = this.radius === null;
    this.again.disabled = this.middle === null;
    this.svg.replaceChildren();
    make("image", { width, height, href: picture }, this.svg);
    this.lines = this.data.outlines.map((points) => {
      const d = `M${points.map(([x, y]) => `${x},${y}`).join("L")}z`;
      make("path", { class: "found", d }, this.svg);
      return make("path", { class: "found over", d }, this.svg);
    });
    if (this.middle === null) return;
    const { x, y } = this.middle;
    for (const kind of ["line", "line over"]) {
      make("path", { class: kind, d: `M${x - 10 * grain},${y}h${20 * grain}M${x},${y - 10 * grain}v${20 * grain}` }, this.svg);
      if (this.radius !== null) make("circle", { class: kind, cx: x, cy: y, r: this.radius }, this.svg);
    }
  }
}

export default function ({ parentElement, data, setTriggerValue }) {
  const root = parentElement.querySelector(".show-piece");
  if (!shows.has(root)) shows.set(root, new Show(root));
  shows.get(root).show(data, setTriggerValue);
}
