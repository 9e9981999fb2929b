// The rim laid straight, under the photo: for counting along with a finger.
// A tap chooses, and what is chosen can be moved along; what else can be done
// with it stand the buttons below for. It is one text with rim_picture.js,
// whose helpers it uses.

const STITCH = 52; // screen pixels from one stitch to the next
const LEAD = 1.5; // stitches that are seen beyond both ends of the round
const STEADY = matchMedia("(prefers-reduced-motion: reduce)");

const remainder = (value, whole) => value - Math.floor(value / whole) * whole;

class Strip {
  constructor(parent, rim) {
    this.rimPicture = rim;
    this.title = html("p", { className: "strip-name", id: "strip-name" }, parent);
    this.box = html("div", { className: "strip", tabIndex: 0 }, parent);
    // One control with one value, so that nobody hears the marks twice.
    for (const [key, value] of [["role", "slider"], ["aria-labelledby", "strip-name"], ["aria-valuemin", 1]]) {
      this.box.setAttribute(key, value);
    }
    this.svg = make("svg", { "aria-hidden": "true" }, this.box);
    [this.tiles, this.frames, this.signs] = [0, 1, 2].map(() => make("g", {}, this.svg));
    this.box.addEventListener("scroll", () => rim.drawStretch());
    this.box.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    for (const kind of ["pointerdown", "pointermove", "pointerup", "pointercancel", "click"]) {
      this.svg.addEventListener(kind, (event) => this[kind](event));
    }
  }

  /** Take over another photo. */
  begin({ strip, centre }) {
    Object.assign(this, strip, { centre, cut: null });
    const next = (i) => this.rim[(i + 1) % this.rim.length];
    this.walked = [0]; // length of the rim before each of its points
    this.rim.forEach(([x, y], i) => this.walked.push(this.walked[i] + Math.hypot(next(i)[0] - x, next(i)[1] - y)));
    this.length = this.walked.at(-1);
    this.scale = STITCH / this.stitch; // screen pixels per photo pixel
    const away = this.rim.map(([x, y]) => Math.hypot(x - centre[0], y - centre[1]));
    this.width = this.stitch / (away.reduce((sum, one) => sum + one, 0) / away.length); // of a stitch, as a depth
    const [top, bottom] = this.depths;
    this.inward = top > bottom ? -1 : 1; // the way to the centre: up or down
    this.high = (Math.abs(top - bottom) / this.width) * STITCH;
    this.wide = Math.ceil((this.length + 2 * LEAD * this.stitch) * this.scale);
    for (const [key, value] of [["width", this.wide], ["height", this.high]]) this.svg.setAttribute(key, value);
    this.tiles.replaceChildren();
    const [long, lead] = [this.length * this.scale, LEAD * STITCH];
    // The rim is closed: the same picture again before it and after it, half a pixel over each other.
    this.pictures = [0, 1, 2, 3].map(() => {
      const box = { width: long + 0.5, height: this.high, preserveAspectRatio: "none" };
      return make("image", { ...box, href: this.picture }, this.tiles);
    });
    for (const [x, width, edge] of [[0, lead, lead], [lead + long, this.wide - lead - long, lead + long]]) {
      make("rect", { class: "veil", x, y: 0, width, height: this.high }, this.tiles);
      make("path", { class: "cut", d: `M${edge},0v${this.high}` }, this.tiles);
    }
    this.box.scrollLeft = 0;
  }

  // From the photo to the strip and back ----------------------------------

  /** How far along the rim a place of the photo lies, in photo pixels, and how deep. */
  project({ x, y }) {
    const [cx, cy] = this.centre;
    const [rayX, rayY] = [x - cx, y - cy];
    const off = this.rim.map(([px, py]) => (px - cx) * rayY - (py - cy) * rayX);
    let best = { away: Infinity, along: 0, depth: 0 };
    this.rim.forEach(([px, py], i) => {
      const j = (i + 1) % this.rim.length;
      if (off[i] * off[j] > 0) return; // the ray from the centre doesn't pass between these two
      const share = off[i] === off[j] ? 0 : off[i] / (off[i] - off[j]);
      const [bx, by] = [px + share * (this.rim[j][0] - px) - cx, py + share * (this.rim[j][1] - py) - cy];
      const away = Math.hypot(bx - rayX, by - rayY);
      if (bx * rayX + by * rayY < 0 || away >= best.away) return;
      const along = this.walked[i] + share * (this.walked[i + 1] - this.walked[i]);
      best = { away, along, depth: 1 - Math.hypot(rayX, rayY) / Math.hypot(bx, by) };
    });
    return best;
  }

  /** The place of the photo that lies so far along the rim and so deep. */
  inPhoto(along, depth) {
    const wanted = remainder(along, this.length);
    let [i, end] = [0, this.rim.length];
    while (end - i > 1) {
      const middle = (i + end) >> 1;
      if (this.walked[middle] <= wanted) i = middle;
      else end = middle;
    }
    const share = (wanted - this.walked[i]) / (this.walked[i + 1] - this.walked[i] || 1);
    const [from, to] = [this.rim[i], this.rim[(i + 1) % this.rim.length]];
    const [x, y] = from.map((value, axis) => {
      const base = value + share * (to[axis] - value);
      return base + depth * (this.centre[axis] - base);
    });
    return { x, y };
  }

  /** The place on the rim, as deep as the marks there, that is nearest to a place of the photo. */
  onRim(at, marks) {
    const { along } = this.project(at);
    const off = (mark) => Math.hypot(mark.x - at.x, mark.y - at.y);
    const near = marks.reduce((best, mark) => (best && off(best) <= off(mark) ? best : mark), null);
    return this.inPhoto(along, near ? this.project(near).depth : this.width / 3);
  }

  /** Photo pixels per screen pixel. */
  get grain() {
    return this.stitch / STITCH;
  }

  across(along) {
    return (remainder(along - this.cut, this.length) + LEAD * this.stitch) * this.scale;
  }

  along(across) {
    return this.cut + across / this.scale - LEAD * this.stitch;
  }

  at(place) {
    const { along, depth } = this.project(place);
    const [top, bottom] = this.depths;
    return { depth, x: this.across(along), y: ((depth - top) / (bottom - top)) * this.high };
  }

  // Drawing ---------------------------------------------------------------

  /** Show the marks as they stand; `here` is the place that is looked at, or null. */
  draw({ marks, doubts, slips }, pending, here, current, ghost) {
    this.begins(marks);
    this.placed = marks.map((mark) => ({ ...mark, ...this.at(mark) }));
    this.signs.replaceChildren();
    const going = new Set(pending.filter((edit) => edit.do === "remove").map((edit) => edit.name));
    const half = 0.62 * STITCH;
    const letters = make("g", { class: "numbers" }, this.signs);
    for (const doubt of doubts) {
      const { x, y } = this.at(doubt);
      drawBox({ x, y }, half, letters);
      // At a corner the letter leaves room for a slip.
      drawLetter({ x: x - half, y: y + this.inward * half }, 13, doubt.letter, letters);
    }
    this.placed.forEach(({ x, y, name, added }, i) => {
      const held = here && here.name === name;
      const kinds = ["copy", i === 0 && "first", added && "added", going.has(name) && "going", held && "held"];
      const group = make("g", { class: kinds.filter(Boolean).join(" ") }, this.signs);
      make("path", { class: "dot", d: shape(i === 0 ? "diamond" : added ? "square" : "disc", x, y, 9) }, group);
      if (held) make("circle", { class: "hold", cx: x, cy: y, r: 0.42 * STITCH }, group);
    });
    if (ghost) {
      const { x, y } = this.at(ghost);
      drawGhost({ x, y }, 10, this.signs);
    }
    if (here) drawRing(this.at(here), 0.36 * STITCH, this.signs);
    const numbers = make("g", { class: "numbers" }, this.signs);
    this.placed.forEach(({ x, y }, i) => {
      const font = 17;
      const low = between(0.8 * font, y - this.inward * (0.5 * STITCH + 0.7 * font), this.high - 0.8 * font);
      make("text", { x, y: low, "font-size": font, "stroke-width": font / 4 }, numbers, i + 1);
    });
    for (const edit of pending) {
      if (edit.do !== "add") continue;
      const { x, y } = this.at(edit);
      make("circle", { class: "soon", cx: x, cy: y, r: 9 }, numbers);
    }
    for (const slip of slips) {
      const { x, y } = this.at(slip);
      drawSlip({ x, y: y + this.inward * 0.6 * half }, [0, this.inward], 14, slip.sign, numbers);
    }
    const now = Math.max(0, marks.findIndex((mark) => mark.name === current));
    const label = marks[now]?.label ?? "";
    for (const [key, value] of [["valuemax", Math.max(1, marks.length)], ["valuenow", now + 1], ["valuetext", label]]) {
      this.box.setAttribute(`aria-${key}`, value);
    }
  }

  /** The round begins midway between its last mark and its first; what is looked at stays where it is. */
  begins(marks) {
    const [first, last] = marks.length ? [marks[0], marks.at(-1)].map((mark) => this.project(mark).along) : [0, 0];
    const cut = first - Math.min(remainder(first - last, this.length) / 2, 1.5 * this.stitch);
    if (this.cut !== null && Math.abs(cut - this.cut) * this.scale < 0.5) return;
    const half = this.box.clientWidth / 2;
    const middle = this.cut === null ? null : this.along(this.box.scrollLeft + half);
    this.cut = cut;
    const turns = (k) => (k - 2) * this.length * this.scale;
    this.pictures.forEach((picture, k) => picture.setAttribute("x", this.across(0) + turns(k)));
    if (middle !== null) this.box.scrollLeft = this.across(middle) - half;
  }

  /** Frame what the photo shows of the rim, {x, y, w, h}; null where it shows all of it. */
  frame(view) {
    this.frames.replaceChildren();
    for (const [from, to] of view ? this.inView(view) : []) {
      const x = LEAD * STITCH + from * this.scale;
      const box = { x, y: 2, width: (to - from) * this.scale, height: this.high - 4, rx: 8 };
      for (const kind of ["frame", "frame over"]) make("rect", { class: kind, ...box }, this.frames);
    }
  }

  /** Stretches of the rim within a view of the photo, each from and to, counted from the cut. */
  inView({ x, y, w, h }) {
    const step = this.stitch / 4;
    const stretches = [];
    let open = false;
    for (let far = 0; far < this.length; far += step) {
      const at = this.inPhoto(this.cut + far, this.width / 2);
      const within = at.x >= x && at.x <= x + w && at.y >= y && at.y <= y + h;
      if (within && !open) stretches.push([far, far]);
      if (within) stretches.at(-1)[1] = Math.min(far + step, this.length);
      open = within;
    }
    return stretches;
  }

  /** A bracket in the photo round the stretch of the rim that is scrolled to; empty where all is seen. */
  get seen() {
    const { scrollLeft, clientWidth } = this.box;
    if (clientWidth >= this.wide - 1) return "";
    const within = (across) => between(this.cut, this.along(across), this.cut + this.length);
    const [from, to] = [within(scrollLeft), within(scrollLeft + clientWidth)];
    const steps = Math.max(1, Math.ceil((2 * (to - from)) / this.stitch));
    const line = Array.from({ length: steps + 1 }, (_, k) => this.smooth(from + ((to - from) * k) / steps));
    const [cx, cy] = this.centre;
    const outward = ({ x, y }) => ({ x: x + (x - cx) * 0.8 * this.width, y: y + (y - cy) * 0.8 * this.width });
    return `M${[outward(line[0]), ...line, outward(line.at(-1))].map(({ x, y }) => `${x},${y}`).join("L")}`;
  }

  /** A place on the inner side of the braid, which doesn't follow each single stitch. */
  smooth(along) {
    const steps = [-4, -3, -2, -1, 0, 1, 2, 3, 4];
    const near = steps.map((k) => this.inPhoto(along + (k / 3) * this.stitch, 1.2 * this.width));
    return { x: near.reduce((sum, { x }) => sum + x, 0) / 9, y: near.reduce((sum, { y }) => sum + y, 0) / 9 };
  }

  // Scrolling -------------------------------------------------------------

  /** Bring a place of the photo into the middle. */
  goTo(place, smooth = true) {
    const left = this.across(this.project(place).along) - this.box.clientWidth / 2;
    this.box.scrollTo({ left, behavior: smooth && !STEADY.matches ? "smooth" : "instant" });
  }

  /** Where the photo is moved by hand, go along with it. */
  follow(view) {
    const middle = { x: view.x + view.w / 2, y: view.y + view.h / 2 };
    let best = { away: Infinity };
    for (const [from, to] of this.inView(view)) {
      for (let far = from; far <= to; far += this.stitch / 4) {
        const at = this.inPhoto(this.cut + far, 0);
        const away = Math.hypot(at.x - middle.x, at.y - middle.y);
        if (away < best.away) best = { away, at };
      }
    }
    if (best.at) this.goTo(best.at, false);
  }

  get focused() {
    return this.box.getRootNode().activeElement === this.box;
  }

  wheel(event) {
    // The wheel scrolls the page, unless one has chosen the strip already.
    if (!this.focused || event.ctrlKey || event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) return;
    const before = this.box.scrollLeft;
    this.box.scrollLeft += event.deltaY;
    if (this.box.scrollLeft !== before) event.preventDefault();
  }

  // A finger scrolls it by itself; the mouse takes hold of it.

  /** The place of the photo under a pointer. */
  under(event) {
    const { left, top } = this.svg.getBoundingClientRect();
    const [first, last] = this.depths;
    const depth = first + ((event.clientY - top) / this.high) * (last - first);
    return this.inPhoto(this.along(event.clientX - left), between(Math.min(first, last), depth, Math.max(first, last)));
  }

  pointerdown(event) {
    const mark = event.target.closest(".held") ? this.rimPicture.here : null;
    this.held = { x: event.clientX, left: this.box.scrollLeft, moved: false, mark };
    if (mark) this.svg.setPointerCapture(event.pointerId);
  }

  pointerup() {
    if (this.held?.mark && this.held.moved) this.rimPicture.drop();
  }

  pointercancel() {
    if (this.held?.mark) this.rimPicture.dropMark();
    if (this.held) this.held.moved = true;
  }

  pointermove(event) {
    if (this.held?.mark) {
      if (!this.held.moved && Math.abs(event.clientX - this.held.x) < 6) return;
      this.held.moved = true;
      this.rimPicture.draggedTo(this.held.mark.name, this.under(event));
      return;
    }
    if (event.pointerType !== "mouse" || !(event.buttons & 1) || !this.held) return;
    const dx = event.clientX - this.held.x;
    if (!this.held.moved && Math.abs(dx) < 4) return;
    this.held.moved = true;
    this.svg.setPointerCapture(event.pointerId);
    this.box.scrollLeft = this.held.left - dx;
  }

  click(event) {
    if (this.held?.moved) return;
    // Beyond its ends the round is seen once more.
    const x = this.across(this.along(event.clientX - this.svg.getBoundingClientRect().left));
    const off = (mark) => Math.abs(mark.x - x);
    if (this.rimPicture.data.byHand && !this.placed.some((mark) => off(mark) < HAND)) {
      this.rimPicture.put(this.inPhoto(this.along(x), this.width / 3));
      return;
    }
    const near = this.placed.reduce((best, mark) => (off(mark) < off(best) ? mark : best));
    const tapped = this.inPhoto(this.along(x), near.depth);
    if (off(near) <= STITCH / 2) {
      this.rimPicture.choose(near.name, null, tapped);
      return;
    }
    const before = this.placed.filter((mark) => mark.x < x).sort((a, b) => b.x - a.x)[0] ?? this.placed.at(-1);
    this.rimPicture.choose(before.name, this.inPhoto(this.along(x), before.depth), tapped);
  }
}
