import assert from "node:assert/strict";
import { test } from "node:test";
import { rim, stripOf } from "./rim.mjs";

const { Rim, between, changed, remainder, shape } = rim;
const near = (got, wanted, within = 1e-9) => assert.ok(Math.abs(got - wanted) <= within, `${got} is not ${wanted}`);

// A circle of 360 points about (500, 400), 300 wide, whose marks run clockwise.
const circle = Array.from({ length: 360 }, (_, k) => {
  const turn = (k / 360) * 2 * Math.PI;
  return [500 + 150 * Math.sin(turn), 400 - 150 * Math.cos(turn)];
});
const strip = () => stripOf({ rim: circle, centre: [500, 400], stitch: 2 * Math.PI * 150 / 24, depths: [-0.2, 0.4] });

test("a value is held between two bounds, the lower one first", () => {
  assert.equal(between(1, 5, 3), 3);
  assert.equal(between(1, -5, 3), 1);
  assert.equal(between(4, 2, 3), 4); // bounds that cross: the lower one holds
});

test("a remainder is never negative", () => {
  near(remainder(-1, 10), 9);
  near(remainder(23, 10), 3);
});

test("every kind of mark has a shape of its own about its place", () => {
  const paths = ["diamond", "square", "disc"].map((kind) => shape(kind, 10, 20, 5));
  assert.equal(new Set(paths).size, 3);
  for (const path of paths) assert.match(path, /^M/);
});

test("what one step changed is found, and nothing where there was more than one", () => {
  const a = { name: 1, x: 0, y: 0 }, b = { name: 2, x: 5, y: 0 }, moved = { name: 2, x: 6, y: 0 };
  assert.deepEqual(changed([a, b], [a]), b);
  assert.deepEqual(changed([a], [a, b]), b);
  assert.deepEqual(changed([a, b], [a, moved]), moved);
  assert.equal(changed([a, b], []), null);
  assert.equal(changed([a], [a]), null);
});

test("the strip walks the rim from its first point on", () => {
  const own = strip();
  near(own.length, 2 * Math.PI * 150, 0.1);
  near(own.project({ x: 650, y: 400 }).along / own.length, 0.25, 1e-3); // three o'clock
  near(own.project({ x: 500, y: 250 }).depth, 0, 1e-6);
  near(own.project({ x: 500, y: 400 - 75 }).depth, 0.5, 1e-6); // half way in
  near(own.project({ x: 500, y: 400 - 180 }).depth, -0.2, 1e-6); // outside
});

test("along the strip and across the screen are each other's way back", () => {
  const own = strip();
  for (const along of [0, 17.5, own.length / 3, own.length - 1e-6]) near(own.along(own.across(along)), along, 1e-6);
  near(own.across(-3), own.across(own.length - 3), 1e-6); // the rim is closed
});

function looking() {
  const drawn = [];
  const own = Object.create(Rim.prototype, {
    narrowest: { value: 50 }, widest: { value: 1000 }, close: { value: false }, draw: { value: () => drawn.push(1) },
    within: { value: (x, y, w) => ({ x, y, w }) },
  });
  own.view = { x: 100, y: 200, w: 400 };
  return own;
}

test("zooming keeps the place under the finger where it is", () => {
  const own = looking();
  const share = (300 - own.view.x) / own.view.w;
  own.zoom(0.5, 300, 260);
  near(own.view.w, 200);
  near((300 - own.view.x) / own.view.w, share);
});

test("zooming stops at the closest look and at the widest", () => {
  const own = looking();
  own.zoom(1e-6, 300, 260);
  near(own.view.w, 50);
  own.zoom(1e9, 300, 260);
  near(own.view.w, 1000);
});

function keyed(key, more = {}) {
  const marks = [0, 1, 2, 3].map((name) => ({ name, x: 10 * name, y: 0 }));
  const done = [];
  const button = { disabled: false };
  const own = Object.assign(Object.create(Rim.prototype), {
    data: { marks }, strip: { box: {} }, current: 1, spot: null, hold: null,
    buttons: { undo: button, redo: button, closer: button, further: button, whole: button },
  });
  for (const name of ["press", "walk", "edit", "open"]) own[name] = (what) => done.push([name, what]);
  own.place = (name) => marks.findIndex((mark) => mark.name === name);
  let prevented = false;
  own.keydown({ key, target: { dataset: { name: "1" } }, preventDefault: () => (prevented = true), ...more });
  return { done, prevented, own };
}

test("keys walk, remove, add, zoom, undo and redo", () => {
  assert.deepEqual(keyed("ArrowRight").done[0][1].name, 2);
  assert.deepEqual(keyed("ArrowLeft").done[0][1].name, 0);
  assert.deepEqual(keyed("Home").done[0][1].name, 0);
  assert.deepEqual(keyed("End").done[0][1].name, 3);
  assert.deepEqual(keyed("Delete").done, [["edit", { do: "remove", name: 1 }]]);
  assert.deepEqual(keyed("Insert").done, [["edit", { do: "add", x: 15, y: 0 }]]);
  assert.deepEqual(keyed("+").done, [["press", "closer"]]);
  assert.deepEqual(keyed("z", { ctrlKey: true }).done, [["press", "undo"]]);
  assert.deepEqual(keyed("z", { ctrlKey: true, shiftKey: true }).done, [["press", "redo"]]);
  assert.deepEqual(keyed("y", { metaKey: true }).done, [["press", "redo"]]);
});

test("a key that means nothing here is left to the browser", () => {
  for (const key of ["a", "Tab", "F5"]) {
    const { done, prevented } = keyed(key);
    assert.deepEqual([done, prevented], [[], false]);
  }
});

test("a mark that is removed hands the keyboard to the one before it, round the loop", () => {
  assert.equal(keyed("Delete").own.current, 0);
  assert.equal(keyed("Backspace", { target: { dataset: { name: "0" } } }).own.current, 3);
});
