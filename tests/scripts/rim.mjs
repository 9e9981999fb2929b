// The classes of the rim picture without a browser: what of it only reckons can be called on its own.
import { readFileSync } from "node:fs";

const page = new URL("../../counter/page/", import.meta.url);
const text = ["rim_strip.js", "rim_picture.js"]
  .map((name) => readFileSync(new URL(name, page), "utf8").replace("export default function", "function component"))
  .join("\n");
const names = ["Strip", "Rim", "between", "changed", "remainder", "shape"];

/** Everything of the two scripts that is named above. */
export const rim = new Function("matchMedia", `${text}\nreturn { ${names.join(", ")} };`)(() => ({ matches: false }));

/** A strip of that rim, as `begin` leaves it, without the elements that it draws. */
export function stripOf({ rim: line, centre, stitch, depths }) {
  const nothing = new Proxy(() => nothing, { get: () => nothing, set: () => true });
  globalThis.document = { createElementNS: () => nothing, createElement: () => nothing };
  const strip = Object.create(rim.Strip.prototype);
  Object.assign(strip, { svg: nothing, tiles: nothing, box: {} });
  strip.begin({ strip: { rim: line, stitch, depths, picture: "" }, centre });
  strip.cut = 0;
  return strip;
}
