// Reads rims and places (JSON) and says where the strip's script puts them, and which place it takes them back to.
import { readFileSync } from "node:fs";
import { stripOf } from "./rim.mjs";

const cases = JSON.parse(readFileSync(0, "utf8"));
const answers = cases.map((one) => {
  const strip = stripOf(one);
  return one.places.map(([x, y]) => {
    const { along, depth } = strip.project({ x, y });
    const back = strip.inPhoto(along, depth);
    return [along, depth, back.x, back.y];
  });
});
process.stdout.write(JSON.stringify(answers));
