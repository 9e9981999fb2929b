// The rim picture: shows the photo with its marks, and sends edits.
// Python holds the marks; until it has answered, an edit is shown faintly.

const NS = "http://www.w3.org/2000/svg";
const CLOSEST = 12; // times the whole photo
const AROUND = 0.16; // room round the piece, as a share of its size
const NUMBERS = 0.09; // and how much of it the numbers need
const RESEND = 1500; // milliseconds
const FINGER = 24; // screen pixels that a fingertip may be off
const [CLEAR, NEAREST] = [34, 6]; // screen pixels from the finger to the magnifier, and where there is no room for that
const LEAST_GLASS = 72; // least height of the enlarged place, in screen pixels
const HAND = 12; // screen pixels on the straight rim within which a tap means a mark that was put by hand
const PAUSE = 450; // milliseconds in which a second tap at the same place means nothing
const ICONS = {
  undo: "M9 5 4 10l5 5M4 10h10a6 6 0 0 1 0 12h-2",
  redo: "m15 5 5 5-5 5M20 10H10a6 6 0 0 0 0 12h2",
  restart: "M12 4a8 8 0 1 1-7.4 5M4 3v6h6",
  further: "M5 12h14",
  closer: "M5 12h14M12 5v14",
  whole: "M4 9V4h5M20 9V4h-5M4 15v5h5M20 15v5h-5",
  back: "M15 5l-7 7 7 7",
  forth: "M9 5l7 7-7 7",
  close: "M6 6l12 12M18 6 6 18",
};
const rims = new WeakMap(); // root element -> Rim

function make(name, attributes = {}, parent = null, text = null) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (parent) parent.appendChild(made);
  if (text !== null) made.textContent = text;
  return made;
}

function html(name, properties = {}, parent = null) {
  const made = Object.assign(document.createElement(name), properties);
  if (parent) parent.appendChild(made);
  return made;
}

const between = (low, value, high) => Math.min(Math.max(value, low), Math.max(low, high));

function shape(kind, x, y, r) {
  if (kind === "disc") return `M${x - r},${y}a${r},${r} 0 1 0 ${2 * r},0a${r},${r} 0 1 0 ${-2 * r},0z`;
  const s = kind === "diamond" ? 1.75 * r : 1.1 * r;
  return kind === "diamond"
    ? `M${x},${y - s}l${s},${s}l${-s},${s}l${-s},${-s}z`
    : `M${x - s},${y - s}h${2 * s}v${2 * s}h${-2 * s}z`;
}

/** A ring round the place that is looked at. */
function drawRing({ x, y }, r, parent) {
  for (const kind of ["ring", "ring over"]) make("circle", { class: kind, cx: x, cy: y, r }, parent);
}

/** A box round a place in doubt. */
function drawBox({ x, y }, half, parent) {
  const box = { x: x - half, y: y - half, width: 2 * half, height: 2 * half, rx: half / 3 };
  for (const kind of ["place", "place over"]) make("rect", { class: kind, ...box }, parent);
}

function drawLetter({ x, y }, font, letter, parent) {
  make("circle", { class: "letter", cx: x, cy: y, r: 0.85 * font }, parent);
  make("text", { x, y, "font-size": font }, parent, letter);
}

/** A drop with a sign in it; it lies in the direction [dx, dy] from its tip. */
function drawSlip({ x, y }, [dx, dy], r, sign, parent) {
  const at = { x: x + dx * 2.1 * r, y: y + dy * 2.1 * r };
  const turn = (Math.atan2(dy, dx) * 180) / Math.PI - 90;
  const drop = `M0,${-2.1 * r}L${0.87 * r},${-0.5 * r}A${r},${r} 0 1 1 ${-0.87 * r},${-0.5 * r}z`;
  make("path", { class: "slip", d: drop, transform: `translate(${at.x} ${at.y}) rotate(${turn})` }, parent);
  make("text", { class: "on-slip", ...at, "font-size": (1.1 / 1.15) * r }, parent, sign);
}

/** Where a stitch may be added, before it is: a broken ring with a cross. */
function drawGhost({ x, y }, r, parent) {
  make("circle", { class: "ghost", cx: x, cy: y, r }, parent);
  make("path", { class: "ghost cross", d: `M${x - r / 2},${y}h${r}M${x},${y - r / 2}v${r}` }, parent);
}

function icon(name, parent) {
  make("path", { d: ICONS[name] }, make("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" }, parent));
}

/** What can be done with the place that is chosen: buttons under the magnifier, and under the straight rim. */
class Tools {
  constructor(parent, rim) {
    this.box = html("div", { className: "tools", hidden: true }, parent);
    this.box.setAttribute("role", "group");
    this.buttons = {};
    const row = html("div", { className: "row" }, this.box);
    const ends = html("div", { className: "row ends" }, this.box);
    for (const name of ["starts", "made"]) {
      const button = html("button", { type: "button", className: name }, ends);
      button.addEventListener("click", () => rim.awake && rim.setEnd(name));
      this.buttons[name] = button;
    }
    const doings = { back: () => rim.step(-1), remove: () => rim.removeHere(), more: () => rim.addHere(), forth: () => rim.step(1) };
    for (const [name, doing] of Object.entries(doings)) {
      const button = html("button", { type: "button", className: name }, row);
      button.dataset.tool = name;
      if (ICONS[name]) icon(name, button);
      button.addEventListener("click", () => {
        if (!rim.awake) return;
        doing();
        if (name === "remove" || name === "more") rim.rest();
      });
      this.buttons[name] = button;
    }
  }

  show(words, removable, addable, made) {
    this.box.setAttribute("aria-label", words.here);
    for (const name of ["back", "forth"]) this.buttons[name].setAttribute("aria-label", words[name]);
    for (const name of ["remove", "more", "starts", "made"]) this.buttons[name].textContent = words[name];
    this.buttons.made.hidden = made === null;
    this.buttons.starts.disabled = this.buttons.made.disabled = !removable;
    this.buttons.remove.disabled = !removable;
    this.buttons.more.disabled = !addable;
  }
}

/** The place under the finger, enlarged beside it. */
class Loupe {
  constructor(parent, rim) {
    this.rim = rim;
    this.box = html("div", { className: "loupe", hidden: true }, parent);
    this.svg = make("svg", { "aria-hidden": "true" }, this.box);
    this.image = make("image", {}, this.svg);
    this.signs = make("g", {}, this.svg);
    this.name = html("b", {}, this.box);
    this.off = html("button", { type: "button", className: "off" }, this.box);
    icon("close", this.off);
    this.off.addEventListener("click", () => rim.awake && rim.letGo());
    this.tools = new Tools(this.box, rim);
    this.tools.box.hidden = false; // as long as the magnifier is there
    for (const kind of ["pointerdown", "pointermove", "pointerup", "pointercancel"]) {
      this.svg.addEventListener(kind, (event) => this[kind](event));
    }
  }

  get shown() {
    return !this.box.hidden;
  }

  /** Above the finger or below it, within the photo where there is room. */
  place() {
    const { finger, view, grain, stage } = this.rim;
    this.svg.style.height = "";
    const [room, whole, glass] = [stage.clientHeight, this.box.offsetHeight, this.svg.clientHeight];
    const y = (finger.y - view.y) / grain;
    const below = y < room / 2;
    // Lower, and a little nearer to the finger, rather than over the buttons beside the photo.
    const over = (clear) => whole + clear - (below ? room - y : y);
    const less = between(0, over(CLEAR), glass - LEAST_GLASS);
    if (less) this.svg.style.height = `${glass - less}px`;
    const [high, clear] = [whole - less, between(NEAREST, CLEAR - (over(CLEAR) - less), CLEAR)];
    this.box.style.top = `${below ? Math.max(y + clear, room - high - 6) : Math.min(y - clear - high, 6)}px`;
  }

  draw(middle) {
    const { data, pitch } = this.rim;
    this.box.hidden = false;
    this.place();
    const { width, height } = this.svg.getBoundingClientRect();
    this.grain = pitch / STITCH; // photo pixels per screen pixel
    const [w, h] = [width * this.grain, height * this.grain];
    this.middle = middle;
    this.svg.setAttribute("viewBox", `${middle.x - w / 2} ${middle.y - h / 2} ${w} ${h}`);
    for (const [key, value] of [["width", data.width], ["height", data.height], ["href", data.picture]]) {
      if (this.image.getAttribute(key) !== String(value)) this.image.setAttribute(key, value);
    }
    this.signs.replaceChildren();
    const r = 8 * this.grain;
    const font = 16 * this.grain;
    const { spotlight, ghost } = this.rim;
    const going = this.rim.going;
    if (spotlight) drawRing(spotlight, 17 * this.grain, this.signs);
    const numbers = make("g", { class: "numbers" });
    const [cx, cy] = data.centre;
    data.marks.forEach(({ x, y, name, added }, i) => {
      const kinds = ["copy", i === 0 && "first", added && "added", going.has(name) && "going"];
      const group = make("g", { class: kinds.filter(Boolean).join(" ") }, this.signs);
      make("path", { class: "dot", d: shape(i === 0 ? "diamond" : added ? "square" : "disc", x, y, r) }, group);
      const reach = 1 + (26 * this.grain) / (Math.hypot(x - cx, y - cy) || 1);
      const at = { x: cx + (x - cx) * reach, y: cy + (y - cy) * reach };
      make("text", { ...at, "font-size": font, "stroke-width": font / 4 }, numbers, i + 1);
    });
    this.signs.append(numbers);
    if (ghost) drawGhost(ghost, 10 * this.grain, this.signs);
    for (const edit of this.rim.pending) {
      if (edit.do === "add") make("circle", { class: "soon", cx: edit.x, cy: edit.y, r }, this.signs);
    }
  }

  at(event) {
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
  }

  pointerdown(event) {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    const at = this.at(event);
    const here = this.rim.spot ? null : this.rim.here;
    const holds = here && Math.hypot(here.x - at.x, here.y - at.y) < FINGER * this.grain;
    this.held = { x: event.clientX, y: event.clientY, middle: this.middle, mark: holds ? here : null, moved: false };
    this.svg.setPointerCapture(event.pointerId);
  }

  pointermove(event) {
    if (!this.held) return;
    const [dx, dy] = [event.clientX - this.held.x, event.clientY - this.held.y];
    if (!this.held.moved && Math.hypot(dx, dy) < 9) return;
    this.held.moved = true;
    if (this.held.mark) {
      const { x, y } = this.at(event);
      this.rim.draggedTo(this.held.mark.name, { x, y });
    } else {
      const { x, y } = this.held.middle;
      this.draw({ x: x - dx * this.grain, y: y - dy * this.grain });
    }
  }

  pointerup(event) {
    const { held } = this;
    this.held = null;
    if (!held) return;
    if (!held.moved) this.rim.pick(this.at(event), this.grain);
    else if (held.mark) this.rim.drop();
  }

  pointercancel() {
    if (this.held?.mark) this.rim.dropMark();
    this.held = null;
    this.rim.drawAll();
  }
}

/** The one mark in which two rows of marks differ, or null. */
function changed(before, after) {
  const without = (some, others) =>
    some.filter(({ name, x, y }) => !others.some((other) => other.name === name && other.x === x && other.y === y));
  const [gone, come] = [without(before, after), without(after, before)];
  return gone.length <= 1 && come.length <= 1 ? (come[0] ?? gone[0] ?? null) : null;
}

class Rim {
  constructor(root) {
    this.root = root;
    this.pending = []; // edits that Python has not answered yet
    this.sent = 0;
    this.pointers = new Map();
    this.current = null; // name of the mark that the keyboard is on
    this.chosen = false; // true once somebody went to a mark, which then has a ring
    this.spot = null; // a place between marks that was chosen: it has the ring instead
    this.ghost = null; // where one more would be put
    this.rested = 0; // when what stands under the finger last became something else
    this.build();
    this.watch = new ResizeObserver(() => {
      if (!this.data) return;
      this.fit();
      this.draw();
    });
    this.watch.observe(this.svg);
    this.watch.observe(this.strip.box);
  }

  build() {
    this.asks = html("section", { className: "asks" }, this.root);
    const pane = html("div", { className: "pane" }, this.root);
    this.stage = html("div", { className: "stage" }, pane);
    const bar = html("div", { className: "bar" }, this.root);
    this.buttons = {};
    for (const name of ["undo", "redo", "restart", null, "further", "closer", "whole"]) {
      if (!name) { html("i", {}, bar); continue; }
      const button = html("button", { type: "button" }, bar);
      button.dataset.do = name;
      icon(name, button);
      button.addEventListener("click", () => this.press(name));
      this.buttons[name] = button;
    }
    this.svg = make("svg", { role: "group" }, this.stage);
    this.image = make("image", {}, this.svg);
    this.stretch = make("g", {}, this.svg);
    this.places = make("g", {}, this.svg);
    this.layer = make("g", {}, this.svg);
    this.ends = make("g", {}, this.svg);
    this.drawn = new Map(); // name of a mark -> its group, kept while the mark is there
    // Also when one comes by the Tab key; after what is being drawn.
    this.layer.addEventListener("focusin", ({ target }) => {
      const mark = this.data.marks[this.place(Number(target.dataset.name))];
      const known = this.chosen && mark?.name === this.current;
      if (mark && !known && target.matches(":focus-visible")) queueMicrotask(() => this.walk(mark));
    });
    this.numbers = make("g", { class: "numbers", "aria-hidden": "true" }, this.svg);
    this.loupe = new Loupe(pane, this);
    this.strip = new Strip(this.root, this);
    this.tools = new Tools(this.root, this);
    this.strip.box.addEventListener("focus", () => this.strip.box.matches(":focus-visible") && this.walk(this.here));
    this.hint = html("p", { className: "hint" }, this.root);
    this.keys = html("p", { className: "hint keys" }, this.root);
    this.slips = html("section", { className: "places" }, this.root);
    for (const kind of ["pointerdown", "pointermove", "pointerup", "pointercancel"]) {
      this.svg.addEventListener(kind, (event) => this[kind](event));
    }
    // Whoever hears the page presses a mark without a finger on it.
    this.layer.addEventListener("click", ({ target, detail }) => {
      const name = target.closest(".mark")?.dataset.name;
      if (detail === 0 && name !== undefined) this.open(Number(name));
    });
    this.svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    this.svg.addEventListener("dragstart", (event) => event.preventDefault());
    this.root.addEventListener("keydown", (event) => this.keydown(event));
  }

  // What Python says ------------------------------------------------------

  show(data, send) {
    this.send = send;
    const other = this.data?.name !== data.name;
    const went = this.pending.some((edit) => edit.serial <= data.seen && ["undo", "redo"].includes(edit.do));
    const back = went && !other ? changed(this.data.marks, data.marks) : null;
    this.data = data;
    if (other) {
      this.pending = [];
      this.drawn.forEach((group) => group.remove());
      this.drawn.clear();
      this.serial = data.seen;
      this.view = this.home = null;
      this.fit();
      for (const [key, value] of [["width", data.width], ["height", data.height], ["href", data.picture]]) {
        this.image.setAttribute(key, value);
      }
      this.strip.begin(data);
      this.letGo();
    }
    this.pending = this.pending.filter((edit) => edit.serial > data.seen);
    this.serial = Math.max(this.serial, data.seen);
    const put = this.spot && data.marks.find(({ x, y }) => Math.hypot(x - this.spot.x, y - this.spot.y) < 0.01);
    if (put) [this.current, this.spot] = [put.name, null];
    const { words, can } = data;
    this.loupe.off.setAttribute("aria-label", words.off);
    for (const [name, button] of Object.entries(this.buttons)) {
      button.title = words[name];
      button.setAttribute("aria-label", words[name]);
      if (name in can) button.disabled = !can[name];
    }
    this.svg.setAttribute("aria-label", words.picture);
    this.strip.title.textContent = words.strip;
    this.hint.textContent = `${words.hint} ${words.alongStrip}`;
    this.keys.textContent = words.keys;
    this.showAsks(other);
    this.showPlaces(this.slips, data.slips, words.slips, "tag");
    if (this.dragged === undefined) this.drawAll();
    if (back) this.strip.goTo(back);
  }

  /** A question for each place in doubt; once drawn they only change, so that nothing jumps and focus stays. */
  showAsks(anew) {
    const { asks, words } = this.data;
    if (anew) {
      this.asks.replaceChildren();
      if (asks.length) html("h2", { textContent: words.doubts }, this.asks);
      const row = html("div", { className: "row" }, this.asks);
      this.cards = asks.map((ask, question) => {
        const card = html("div", { className: "ask" }, row);
        card.setAttribute("role", "group");
        Object.assign(card.dataset, { x: ask.x, y: ask.y });
        card.setAttribute("aria-label", ask.ask);
        const look = html("button", { type: "button", className: "look", title: words.open }, card);
        look.setAttribute("aria-label", `${words.open}: ${ask.letter}`);
        look.addEventListener("click", () => this.goTo(ask.x, ask.y));
        const crop = html("img", { alt: "" }, look);
        const told = html("div", { className: "told" }, card);
        const head = html("strong", {}, told);
        html("i", { textContent: ask.letter }, head);
        head.append(ask.ask);
        html("span", { textContent: ask.why }, told);
        const answers = html("div", { className: "answers" }, told);
        const buttons = ask.answers.map(({ words: said, change }) => {
          const button = html("button", { type: "button", textContent: said }, answers);
          button.dataset.change = change;
          button.addEventListener("click", () => this.edit({ do: "answer", question, change }));
          return button;
        });
        return { crop, buttons };
      });
    }
    const waits = new Map(this.pending.filter((edit) => edit.do === "answer").map((edit) => [edit.question, edit.change]));
    this.cards.forEach(({ crop, buttons }, k) => {
      if (crop.src !== asks[k].crop) crop.src = asks[k].crop;
      buttons.forEach((button, i) => {
        const { change, chosen } = asks[k].answers[i];
        button.setAttribute("aria-pressed", waits.has(k) ? waits.get(k) === change : chosen);
      });
    });
  }

  /** A card for each place, which leads to it; the same ones stay as they are. */
  showPlaces(section, places, title, kind) {
    const shown = JSON.stringify(places);
    if (shown === section.dataset.shown) return;
    section.dataset.shown = shown;
    section.replaceChildren();
    if (!places.length) return;
    html("h2", { textContent: title }, section);
    const cards = html("div", { className: `cards ${kind}s` }, section);
    for (const place of places) {
      const card = html("button", { type: "button", title: this.data.words.open }, cards);
      html("img", { src: place.crop, alt: "" }, card);
      const told = html("span", { className: "told" }, card);
      const head = html("strong", {}, told);
      html("i", { textContent: place.sign, className: kind }, head);
      head.append(place.title);
      html("span", { textContent: place.why }, told);
      card.addEventListener("click", () => this.goTo(place.x, place.y));
    }
  }

  // Drawing ---------------------------------------------------------------

  /** Photo pixels per screen pixel. */
  get grain() {
    const { width } = this.svg.getBoundingClientRect();
    return width ? this.view.w / width : 1;
  }

  get pitch() {
    const { marks, width } = this.data;
    const steps = marks.map(({ x, y }, i) => {
      const next = marks[(i + 1) % marks.length];
      return Math.hypot(next.x - x, next.y - y);
    });
    const middle = steps.sort((a, b) => a - b)[Math.floor(steps.length / 2)];
    // Put by hand one after the other, the first ones are far apart.
    return (this.data.byHand ? Math.min(middle || Infinity, this.strip.stitch) : middle) || width / 12;
  }

  /** The photo and the strip: after a change of the marks, or of the one that is chosen. */
  drawAll() {
    if (this.place(this.current) < 0) this.current = this.data.marks[0]?.name;
    this.strip.draw(this.data, this.pending, this.spotlight, this.current, this.ghost);
    this.draw();
    this.drawTools();
  }

  /** The magnifier where the photo was touched, and what can be done with the place that is chosen. */
  drawTools() {
    const { words, marks } = this.data;
    const open = this.spotlight && this.hold;
    this.loupe.box.hidden = this.hold !== "photo" || !open;
    this.tools.box.hidden = this.hold !== "strip" || !open;
    this.stage.classList.toggle("chosen", this.loupe.shown);
    if (!open) return;
    const number = this.place(this.current) + 1;
    const said = this.spot ? words.between : words.stitch.replace("{n}", number).replace("{total}", marks.length);
    for (const tools of [this.loupe.tools, this.tools]) {
      tools.show({ ...words, here: said }, !this.spot, Boolean(this.ghost), this.data.made);
    }
    if (this.hold !== "photo") return;
    this.loupe.name.textContent = said;
    this.loupe.draw(this.loupe.held?.mark ? this.loupe.middle : this.spotlight);
  }

  /** Marks that are on their way out. */
  get going() {
    return new Set(this.pending.filter((edit) => edit.do === "remove").map((edit) => edit.name));
  }

  /** Once a tool was used, or the magnifier came up where the finger is, a tap that still comes means nothing. */
  rest() {
    this.rested = Date.now();
  }

  get awake() {
    return Date.now() - this.rested > PAUSE;
  }

  // What is chosen --------------------------------------------------------

  /** Choose the mark nearest to a place on the rim; away from the rim nothing is. `grain`: photo pixels a screen pixel. */
  pick(at, grain) {
    const rim = this.strip.onRim(at, this.data.marks);
    if (Math.hypot(rim.x - at.x, rim.y - at.y) > Math.max(this.pitch, FINGER * grain)) return false;
    // Where the rim steps inwards, at the end of a round, its line beside a mark may lie nearer to another one.
    const on = this.data.marks.some((mark) => Math.hypot(mark.x - at.x, mark.y - at.y) < 0.5 * FINGER * grain);
    const { x, y } = on ? at : rim;
    const off = (mark) => Math.hypot(mark.x - x, mark.y - y);
    const near = this.data.marks.reduce((best, mark) => (best && off(best) <= off(mark) ? best : mark), null);
    // Put by hand, a stitch stands where the finger says.
    const free = this.data.byHand && !(near && off(near) < HAND * this.strip.grain);
    this.current = near?.name;
    this.chosen = !free;
    this.spot = free ? rim : null;
    this.ghost = this.data.byHand ? rim : this.likely(rim, FINGER * grain);
    this.drawAll();
    if (this.hold === "photo") this.strip.goTo(free ? rim : near);
    return true;
  }

  /** Open the magnifier over a mark. */
  open(name) {
    const mark = this.data.marks[this.place(name)];
    if (!mark) return;
    this.hold = "photo";
    this.finger = mark;
    this.pick(mark, 0);
    this.loupe.tools.buttons.remove.focus({ preventScroll: true });
  }

  letGo() {
    this.chosen = false;
    this.spot = this.ghost = this.hold = null;
    if (this.data && this.view) this.drawAll();
  }

  /** The likeliest place for one more stitch within a fingertip of a place: the widest gap, the nearer the better. */
  likely(at, reach) {
    const { marks, doubts } = this.data;
    const { along } = this.strip.project(at);
    const places = marks.map((mark) => this.strip.project(mark));
    const length = this.strip.length;
    const far = Math.max(reach, this.pitch);
    const apart = (one, other) => Math.min(remainder(one - other, length), remainder(other - one, length));
    let best = null;
    places.forEach((place, i) => {
      const next = places[(i + 1) % places.length];
      const gap = remainder(next.along - place.along, length);
      // Where there is room for several, each of them is a place by itself.
      const room = Math.max(1, Math.round(gap / this.pitch) - 1);
      for (let k = 1; k <= room; k += 1) {
        const middle = place.along + (gap * k) / (room + 1);
        const off = apart(middle, along);
        if (off > far) continue;
        const depth = place.depth + ((next.depth - place.depth) * k) / (room + 1);
        const spot = this.strip.inPhoto(middle, depth);
        const asked = doubts.some(({ x, y }) => Math.hypot(x - spot.x, y - spot.y) < 0.6 * this.pitch);
        const worth = Math.min(gap / this.pitch, 2) - off / far + (asked ? 0.5 : 0);
        if (!best || worth > best.worth) best = { worth, spot };
      }
    });
    return best?.spot ?? null;
  }

  step(way) {
    const { marks } = this.data;
    const here = this.place(this.current);
    // From between two marks the next one is next to it.
    const to = this.spot && way > 0 ? here + 1 : this.spot ? here : here + way;
    const mark = marks[(to + marks.length) % marks.length];
    if (!mark) return;
    const hold = this.hold;
    this.walk(mark, false);
    this.hold = hold;
    this.finger = mark;
    this.ghost = this.likely(mark, 0);
    this.drawAll();
  }

  removeHere() {
    if (this.spot || !this.here) return;
    const { name, x, y } = this.here;
    const before = this.data.marks[(this.place(name) - 1 + this.data.marks.length) % this.data.marks.length];
    this.current = before.name;
    this.spot = this.ghost = { x, y };
    this.edit({ do: "remove", name });
  }

  addHere() {
    if (!this.ghost) return;
    const { x, y } = this.ghost;
    this.ghost = null;
    this.spot = { x, y };
    this.edit({ do: "add", x, y });
  }

  /** The round starts, or is made up to, the mark that is chosen. */
  setEnd(name) {
    if (this.spot || !this.here) return;
    this.edit({ do: name === "starts" ? "start" : "made", name: this.here.name });
    this.letGo();
  }

  /** A mark under a finger, shown where it is but not moved yet. */
  draggedTo(name, { x, y }) {
    const mark = this.data.marks[this.place(name)];
    if (!mark) return;
    const from = this.dragged?.from ?? { x: mark.x, y: mark.y };
    this.dragged = { name, x, y, from };
    Object.assign(mark, { x, y });
    this.drawAll();
  }

  drop() {
    if (this.dragged === undefined) return;
    const { name, x, y } = this.dragged;
    this.dragged = undefined;
    this.edit({ do: "move", name, x, y });
  }

  /** Where the ring is, or null. */
  get spotlight() {
    return this.spot ?? (this.chosen ? this.here : null);
  }

  get here() {
    return this.data.marks[this.place(this.current)];
  }

  /** True where the round is not seen whole. */
  get close() {
    return this.view.w < this.home.w * 0.999;
  }

  /** What is seen of the photo, in photo pixels. */
  get seen() {
    return { ...this.view, h: this.view.w / this.shape };
  }

  draw() {
    const { data, view } = this;
    const { h } = this.seen;
    this.svg.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${h}`);
    this.stage.classList.toggle("close", this.close);
    this.buttons.further.disabled = view.w >= this.widest * 0.999;
    this.buttons.whole.disabled = ["x", "y", "w"].every((name) => view[name] === this.home[name]);
    this.buttons.closer.disabled = view.w <= this.narrowest * 1.001;
    this.places.replaceChildren();
    this.numbers.replaceChildren();
    const { grain, pitch } = this;
    const apart = pitch / grain; // screen pixels from mark to mark
    const r = between(2.4, 0.18 * apart, 9) * grain;
    const font = between(11, 0.42 * apart, 17) * grain;
    this.taken = []; // what is written already, as boxes in photo pixels
    this.drawPlaces(Math.max(0.75 * pitch, 14 * grain), 13 * grain);
    this.drawSlips(Math.max(0.75 * pitch, 14 * grain), 13 * grain);
    this.drawMade(r);
    this.drawMarks(r, 0.4 * pitch);
    const every = [1, 2, 5, 10, 20].find((step) => step * apart >= 1.75 * (font / grain)) ?? 50;
    const numbered = data.marks.map((mark, i) => ({ mark, number: i + 1 }));
    const first = ({ mark, number }) => (number === 1 ? 2 : 0) + (mark === this.spotlight ? 1 : 0);
    for (const { mark, number } of numbered.sort((a, b) => first(b) - first(a) || a.number - b.number)) {
      if (number % every && !first({ mark, number })) continue;
      this.drawNumber(mark, number, font, Math.max(0.5 * pitch, 1.6 * r));
    }
    for (const edit of this.pending) {
      if (edit.do === "add") make("circle", { class: "soon", cx: edit.x, cy: edit.y, r }, this.numbers);
    }
    if (this.spotlight) drawRing(this.spotlight, Math.max(0.36 * pitch, 2 * r), this.places);
    if (this.ghost) drawGhost(this.ghost, Math.max(r, 5 * grain), this.numbers);
    this.strip.frame(this.close ? this.seen : null);
    this.drawStretch();
  }

  /** A line along the stretch of the rim that the strip shows. */
  drawStretch() {
    const line = this.data ? this.strip.seen : "";
    this.stretch.replaceChildren();
    for (const kind of line ? ["stretch", "stretch over"] : []) make("path", { class: kind, d: line }, this.stretch);
  }

  /** A round under way: a line through what is made, and a handle at either end that can be drawn along the rim. */
  drawMade(r) {
    const { marks, made } = this.data;
    this.ends.replaceChildren();
    if (made === null || !marks.length) return;
    const done = marks.slice(0, Math.max(made, 1));
    for (const kind of ["worked", "worked over"]) {
      make("path", { class: kind, d: `M${done.map(({ x, y }) => `${x},${y}`).join("L")}` }, this.ends);
    }
    const [cx, cy] = this.data.centre;
    const reach = 34 * this.grain;
    for (const [end, mark] of [["start", done[0]], ["made", done.at(-1)]]) {
      const at = this.pulled?.end === end ? this.pulled : mark;
      const away = Math.hypot(at.x - cx, at.y - cy) || 1;
      const [x, y] = [at.x + ((cx - at.x) / away) * reach, at.y + ((cy - at.y) / away) * reach];
      make("path", { class: "stem", d: `M${at.x},${at.y}L${x},${y}` }, this.ends);
      const handle = make("g", { class: `end ${end}`, "data-end": end }, this.ends);
      make("circle", { cx: x, cy: y, r: 22 * this.grain, fill: "transparent" }, handle);
      make("circle", { class: "knob", cx: x, cy: y, r: 12 * this.grain }, handle);
      make("path", { class: "arrows", d: `M${x - 5 * this.grain},${y}h${10 * this.grain}` }, handle);
    }
  }

  /** A box round each place in doubt, with its letter on the side of the centre. */
  drawPlaces(half, font) {
    const [cx, cy] = this.data.centre;
    for (const { x, y, letter } of this.data.doubts) {
      drawBox({ x, y }, half, this.places);
      const away = Math.hypot(x - cx, y - cy) || 1;
      const [dx, dy] = [(cx - x) / away, (cy - y) / away];
      const reach = 1.15 * half + 0.9 * font;
      const at = this.free({ x: x + dx * reach, y: y + dy * reach }, [dx, dy], 0.85 * font);
      drawLetter(at, font, letter, this.numbers);
    }
  }

  /** A drop inside the rim whose tip points at each place where the round left its plan. */
  drawSlips(half, font) {
    const { slips, centre: [cx, cy] } = this.data;
    const r = 1.15 * font;
    for (const { x, y, sign } of slips) {
      const away = Math.hypot(x - cx, y - cy) || 1;
      const [dx, dy] = [(cx - x) / away, (cy - y) / away];
      const reach = 0.6 * half + 2.1 * r;
      const head = this.free({ x: x + dx * reach, y: y + dy * reach }, [dx, dy], r);
      drawSlip({ x: head.x - 2.1 * r * dx, y: head.y - 2.1 * r * dy }, [dx, dy], r, sign, this.numbers);
    }
  }

  touches(x, y, rx, ry) {
    return this.taken.some((box) => Math.abs(box.x - x) < box.rx + rx && Math.abs(box.y - y) < box.ry + ry);
  }

  /** The nearest place from here in a direction where a disc touches nothing that is written; it is taken then. */
  free({ x, y }, [dx, dy], r) {
    for (let step = 0; step < 8 && this.touches(x, y, r, r); step += 1) [x, y] = [x + 0.5 * r * dx, y + 0.5 * r * dy];
    this.taken.push({ x, y, rx: r, ry: r });
    return { x, y };
  }

  /** Bring the groups of the marks up to date, so that focus and a tap under way survive. */
  drawMarks(r, reach) {
    const { marks } = this.data;
    const focused = this.root.getRootNode().activeElement;
    const lost = focused && this.layer.contains(focused) && this.place(Number(focused.dataset.name)) < 0;
    for (const [name, group] of this.drawn) {
      if (this.place(name) >= 0) continue;
      group.remove();
      this.drawn.delete(name);
    }
    const { going } = this;
    marks.forEach((mark, i) => {
      const group = this.drawn.get(mark.name) ?? this.newMark(mark, i);
      const { x, y } = mark;
      const kinds = ["mark", i === 0 && "first", mark.added && "added", going.has(mark.name) && "going"];
      const [hit, halo, dot] = group.children;
      group.setAttribute("class", kinds.filter(Boolean).join(" "));
      group.setAttribute("aria-label", mark.label);
      group.setAttribute("tabindex", mark.name === this.current ? 0 : -1);
      group.dataset.mark = i + 1;
      for (const [circle, size] of [[hit, Math.max(reach, r)], [halo, 2 * r]]) {
        for (const [key, value] of [["cx", x], ["cy", y], ["r", size]]) circle.setAttribute(key, value);
      }
      dot.setAttribute("d", shape(i === 0 ? "diamond" : mark.added ? "square" : "disc", x, y, r));
    });
    // Whoever hears the marks hears them in their order, also once the round begins at another one.
    const order = marks.map(({ name }) => this.drawn.get(name));
    if (order.some((group, i) => this.layer.children[i] !== group)) {
      const held = focused && this.layer.contains(focused) ? Number(focused.dataset.name) : null;
      this.layer.append(...order);
      if (held !== null) this.focus(held);
    }
    if (lost) this.focus(this.current);
  }

  newMark({ name }, i) {
    const group = make("g", { role: "button", "data-name": name });
    this.layer.insertBefore(group, this.layer.children[i] ?? null);
    make("circle", { fill: "transparent" }, group);
    make("circle", { class: "halo" }, group);
    make("path", { class: "dot" }, group);
    this.drawn.set(name, group);
    return group;
  }

  /** A mark's number, outside the rim, where there is room for it. */
  drawNumber({ x, y }, number, font, gap) {
    const [cx, cy] = this.data.centre;
    const reach = 1 + (gap + 0.75 * font) / (Math.hypot(x - cx, y - cy) || 1);
    const box = { x: cx + (x - cx) * reach, y: cy + (y - cy) * reach, rx: 0.32 * font * String(number).length, ry: 0.5 * font };
    if (this.touches(box.x, box.y, box.rx, box.ry)) return;
    this.taken.push(box);
    make("text", { x: box.x, y: box.y, "font-size": font, "stroke-width": font / 4 }, this.numbers, number);
  }

  // Edits -----------------------------------------------------------------

  edit(change) {
    this.serial += 1;
    this.pending.push({ serial: this.serial, ...change });
    this.post();
    this.showAsks(false);
    const at = change.do === "remove" ? this.data.marks[this.place(change.name)] : change;
    // Under a finger that puts one mark after the other the strip stays as it is.
    if (at?.x !== undefined && !this.data.byHand) this.strip.goTo(at);
    if (!["add", "remove", "move"].includes(change.do)) this.letGo();
    this.drawAll();
  }

  post() {
    this.sent = Date.now();
    this.send("edits", this.pending);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.pending.length && this.root.isConnected && this.post(), RESEND);
  }

  press(name) {
    if (name === "closer" || name === "further") {
      this.zoomToRim(name === "closer" ? 1 / 1.6 : 1.6);
    } else if (name === "whole") {
      this.view = this.home;
      this.draw();
    } else {
      this.edit({ do: name });
    }
  }

  /** Number in the row of the mark that a name belongs to. */
  place(name) {
    return this.data.marks.findIndex((mark) => mark.name === name);
  }

  focus(name) {
    const found = this.layer.querySelector(`[data-name="${name}"]`);
    if (found) found.focus({ preventScroll: true });
  }

  keydown(event) {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.ctrlKey || event.metaKey) {
      const name = key === "y" || (key === "z" && event.shiftKey) ? "redo" : key === "z" ? "undo" : null;
      if (!name) return;
      event.preventDefault();
      if (!this.buttons[name].disabled) this.press(name);
      return;
    }
    if (key === "Escape" && this.hold) {
      this.letGo();
      this.focus(this.current);
      event.preventDefault();
      return;
    }
    const zooms = { "+": "closer", "=": "closer", "-": "further", "0": "whole", Escape: "whole" };
    if (zooms[key]) {
      if (!this.buttons[zooms[key]].disabled) this.press(zooms[key]);
      event.preventDefault();
      return;
    }
    if (!event.target.dataset.name && event.target !== this.strip.box) return;
    const { marks } = this.data;
    const here = this.place(Number(event.target.dataset.name ?? this.current));
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[key];
    const end = { Home: 0, End: marks.length - 1 }[key];
    if (step) {
      this.walk(marks[(here + step + marks.length) % marks.length]);
    } else if (end !== undefined) {
      this.walk(marks[end]);
    } else if ((key === "Enter" || key === " ") && event.target.dataset.name) {
      this.open(marks[here].name);
    } else if (key === "Delete" || key === "Backspace") {
      if (this.spot) return;
      this.current = marks[(here - 1 + marks.length) % marks.length].name;
      this.edit({ do: "remove", name: marks[here].name });
    } else if (key === "Insert") {
      const next = marks[(here + 1) % marks.length];
      const { x, y } = this.spot ?? { x: (marks[here].x + next.x) / 2, y: (marks[here].y + next.y) / 2 };
      this.spot = this.ghost = null;
      this.edit({ do: "add", x, y });
    } else {
      return;
    }
    event.preventDefault();
  }

  walk(mark, focus = true) {
    this.current = mark.name;
    this.chosen = true;
    this.spot = this.ghost = this.hold = null;
    const { x, y, w, h } = this.seen;
    const edge = Math.min(this.pitch, w / 4, h / 4);
    const inner = { x: between(x + edge, mark.x, x + w - edge), y: between(y + edge, mark.y, y + h - edge) };
    if (inner.x !== mark.x || inner.y !== mark.y) this.look(mark.x, mark.y, w);
    this.drawAll();
    this.strip.goTo(mark);
    if (focus && !this.strip.focused) this.focus(mark.name);
  }

  /** Where marks are put by hand, a tap on the straight rim puts one there. */
  put(place) {
    this.letGo();
    this.edit({ do: "add", ...place });
  }

  /** Show in the photo what was tapped in the strip, which stays as it is under the finger. */
  choose(name, place, tapped) {
    this.current = name;
    this.chosen = true;
    this.hold = "strip";
    this.spot = place && (this.likely(place, 0.5 * this.pitch) ?? place);
    this.ghost = this.spot ?? this.likely(tapped, 0.5 * this.pitch);
    const { x, y } = this.spotlight;
    this.look(x, y, Math.min(this.view.w, this.nearby));
    this.drawAll();
  }

  // Zoom and pan ----------------------------------------------------------

  /** Widths of what can be seen, in photo pixels. */
  get widest() {
    return Math.max(this.data.width, this.data.height * this.shape);
  }

  get narrowest() {
    return this.data.width / CLOSEST;
  }

  /** What can be seen that is nearest to this; beyond the photo's edge only what the numbers need. */
  within(x, y, w) {
    w = between(this.narrowest, w, this.widest);
    const along = (at, size, seen) => {
      const room = Math.max(0.06 * w, (seen - size) / 2);
      return between(-room, at, size - seen + room);
    };
    return { w, x: along(x, this.data.width, w), y: along(y, this.data.height, w / this.shape) };
  }

  /** The round with its numbers; beyond the photo's edge only where they need it. */
  wholeRound() {
    const sides = [0, 1].map((axis) => this.data.strip.rim.map((place) => place[axis]));
    const [[left, right], [top, bottom]] = sides.map((places) => [Math.min(...places), Math.max(...places)]);
    const size = Math.max(right - left, (bottom - top) * this.shape);
    const wanted = Math.min((1 + 2 * AROUND) * size, this.data.width, this.data.height * this.shape);
    const w = Math.max((1 + 2 * NUMBERS) * size, wanted);
    const along = (low, high, seen, whole) => {
      const at = (low + high - seen) / 2;
      const spare = (seen - (high - low)) / 2 - NUMBERS * size;
      return between(at - spare, between(0, at, whole - seen), at + spare);
    };
    const [x, y] = [along(left, right, w, this.data.width), along(top, bottom, w / this.shape, this.data.height)];
    return this.within(x, y, w);
  }

  /** Take on the shape of the stage; the round stays whole where it was. */
  fit() {
    const { width, height } = this.svg.getBoundingClientRect();
    const shape = width && height ? width / height : 1;
    if (this.home && Math.abs(shape / this.shape - 1) < 1e-3) return;
    this.shape = shape;
    const whole = this.view === this.home;
    this.home = this.wholeRound();
    this.view = whole ? this.home : this.within(this.view.x, this.view.y, this.view.w);
  }

  /** Show a place in the middle, w photo pixels wide. */
  look(x, y, w) {
    this.view = this.within(x - w / 2, y - w / this.shape / 2, w);
    this.draw();
  }

  /** Width of a look at a place, in photo pixels. */
  get nearby() {
    return between(this.narrowest, 9 * this.pitch, this.home.w);
  }

  goTo(x, y) {
    this.look(x, y, this.nearby);
    this.strip.goTo({ x, y });
    this.stage.scrollIntoView({ block: "nearest" });
  }

  /** Closer, or further away, with the rim in the middle: where the finger was, or the doubt, or what is seen of it. */
  zoomToRim(factor) {
    const { x, y, w, h } = this.seen;
    const seen = { x: x + w / 2, y: y + h / 2 };
    const [doubt] = this.data.doubts;
    const wanted = this.spotlight ?? (this.close ? null : (this.touched ?? doubt));
    const start = this.data.marks[0] ?? { x: this.strip.rim[0][0], y: this.strip.rim[0][1] };
    const at = wanted ?? this.strip.onRim(this.close ? seen : start, this.data.marks);
    this.look(at.x, at.y, between(this.narrowest, w * factor, this.widest));
    if (this.close) this.strip.follow(this.seen);
    if (this.view.w >= this.home.w) this.view = this.home;
    this.drawAll();
  }

  /** Make what is seen `factor` times as wide; the place (x, y) stays put. */
  zoom(factor, x, y) {
    const w = between(this.narrowest, this.view.w * factor, this.widest);
    const share = w / this.view.w;
    this.view = this.within(x - (x - this.view.x) * share, y - (y - this.view.y) * share, w);
    this.draw();
    if (this.close) this.strip.follow(this.seen);
  }

  wheel(event) {
    // Without Ctrl the wheel scrolls the page, unless one is close up already.
    if (!event.ctrlKey && !this.stage.classList.contains("close")) return;
    event.preventDefault();
    const at = this.at(event);
    this.zoom(Math.exp(between(-60, event.deltaY, 60) * 0.006), at.x, at.y);
  }

  // Fingers and mouse -----------------------------------------------------

  /** Place in the photo under a pointer. */
  at(event) {
    return new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
  }

  inPhoto({ x, y }) {
    return x >= 0 && y >= 0 && x < this.data.width && y < this.data.height;
  }

  pointerdown(event) {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    this.pointers.set(event.pointerId, event);
    if (this.pointers.size === 1) {
      const name = event.target.closest(".mark")?.dataset.name;
      this.pulling = event.target.closest(".end")?.dataset.end ?? null;
      if (this.pulling) this.svg.setPointerCapture(event.pointerId);
      // A finger takes hold only of the mark that it has chosen before; a mouse, of any.
      const held = name !== undefined && (event.pointerType === "mouse" || (this.chosen && Number(name) === this.current));
      this.start = { event, view: { ...this.view }, grain: this.grain, name: held ? Number(name) : null };
      this.moved = false;
    } else {
      this.dropMark();
      this.moved = true;
    }
  }

  /** Put a mark back that was being dragged. */
  dropMark() {
    const mark = this.dragged && this.data.marks[this.place(this.dragged.name)];
    if (mark) Object.assign(mark, this.dragged.from);
    this.dragged = undefined;
  }

  pointermove(event) {
    if (!this.pointers.has(event.pointerId)) return;
    const before = this.pointers.get(event.pointerId);
    this.pointers.set(event.pointerId, event);
    if (this.pointers.size > 1) {
      const other = [...this.pointers.values()].find((pointer) => pointer.pointerId !== event.pointerId);
      const gap = (pointer) => Math.hypot(pointer.clientX - other.clientX, pointer.clientY - other.clientY);
      const at = this.at({ clientX: (event.clientX + other.clientX) / 2, clientY: (event.clientY + other.clientY) / 2 });
      if (gap(event) > 8) this.zoom(gap(before) / gap(event), at.x, at.y);
      return;
    }
    const { start } = this;
    const dx = event.clientX - start.event.clientX;
    const dy = event.clientY - start.event.clientY;
    if (!this.moved && Math.hypot(dx, dy) < (event.pointerType === "mouse" ? 4 : 9)) return;
    if (!this.moved) this.svg.setPointerCapture(event.pointerId);
    this.moved = true;
    if (this.pulling) {
      const { x, y } = this.strip.onRim(this.at(event), this.data.marks);
      this.pulled = { end: this.pulling, x, y };
      this.draw();
    } else if (start.name !== null) {
      this.draggedTo(start.name, this.at(event));
    } else {
      this.stage.classList.add("panning");
      this.view = this.within(start.view.x - dx * start.grain, start.view.y - dy * start.grain, this.view.w);
      this.draw();
      if (this.close) this.strip.follow(this.seen);
    }
  }

  pointerup(event) {
    if (!this.pointers.delete(event.pointerId)) return;
    this.stage.classList.remove("panning");
    if (this.pulled) {
      const off = (mark) => Math.hypot(mark.x - this.pulled.x, mark.y - this.pulled.y);
      const near = this.data.marks.reduce((best, mark) => (off(mark) < off(best) ? mark : best));
      this.edit({ do: this.pulled.end, name: near.name });
      this.pulled = null;
    } else if (this.pulling) this.pulling = null;
    else if (this.dragged !== undefined) this.drop();
    else if (!this.moved && this.pointers.size === 0) this.tap(this.at(event));
    this.restartPan();
  }

  /** A tap only chooses; away from the rim it lets go of what was chosen. */
  tap(at) {
    this.touched = this.strip.onRim(at, this.data.marks);
    if (this.hold !== "photo") this.rest();
    this.hold = "photo";
    this.finger = at;
    if (!this.pick(at, this.grain)) this.letGo();
  }

  pointercancel(event) {
    this.pulled = this.pulling = null;
    this.pointers.delete(event.pointerId);
    this.stage.classList.remove("panning");
    this.dropMark();
    this.moved = true;
    this.drawAll();
    this.restartPan();
  }

  /** A finger that stays after pinching goes on panning from where it is. */
  restartPan() {
    const [event] = this.pointers.values();
    if (event) this.start = { event, view: { ...this.view }, grain: this.grain, name: null };
  }
}

/** Go on once the pictures of that photo are here (rim_pictures.js). */
function withPictures(name, then) {
  if (window.rimPictures?.name === name) then(window.rimPictures);
  else window.addEventListener("rim-pictures", () => withPictures(name, then), { once: true });
}

export default function ({ parentElement, data, setTriggerValue }) {
  const root = parentElement.querySelector(".rim");
  if (!rims.has(root)) rims.set(root, new Rim(root));
  withPictures(data.name, (pictures) => rims.get(root).show({ ...data, ...pictures }, setTriggerValue));
}
