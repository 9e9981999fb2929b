// What the page asks of the browser beside showing things.

const SETTLED = 60; // milliseconds until a box knows what was pasted into it

/** Streamlit takes a text when its box is left: a pasted one is taken at once. */
function pasted({ target }) {
  if (!(target instanceof HTMLTextAreaElement)) return;
  setTimeout(() => {
    target.blur();
    // A finger wants to see what came of it, not the keyboard; keys go on where they were.
    if (matchMedia("(pointer: fine)").matches) target.focus({ preventScroll: true });
  }, SETTLED);
}

const heights = new Map(); // place on the page -> how far down it was when it was touched last
let place = null;

const main = () => document.querySelector('[data-testid="stMain"]');
const touched = () => main() && heights.set(place, main().scrollTop);

/** Another view begins at its top; one that is come back to, where it was left. */
function arrive(at) {
  if (place === at) return;
  const first = place === null;
  place = at;
  if (!first) requestAnimationFrame(() => main()?.scrollTo(0, heights.get(at) ?? 0));
}

const PATIENCE = 1000; // milliseconds until the place for another photo must be there
let asked = null;

/** A tap that asks for another photo opens the phone's own choice of camera and pictures. */
function offer(now) {
  const first = asked === null;
  const same = asked === now;
  asked = now;
  // With a mouse a photo may as well be dropped: a window on top would be in the way.
  if (first || same || !matchMedia("(pointer: coarse)").matches) return;
  const until = performance.now() + PATIENCE;
  requestAnimationFrame(function open() {
    const input = document.querySelector('[data-testid="stFileUploader"] input[type="file"]');
    if (input) input.click();
    else if (performance.now() < until) requestAnimationFrame(open);
  });
}

let listening = false;

export default function ({ data }) {
  if (!listening) {
    document.addEventListener("paste", pasted);
    for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, touched, true);
  }
  listening = true;
  arrive(data.place);
  offer(data.asked);
  // In the place of the last one: "back" leaves the page, whatever was stepped through.
  if (data.query !== null && location.search !== data.query) {
    history.replaceState(history.state, "", location.pathname + data.query + location.hash);
  }
}
