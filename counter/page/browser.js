// What the page asks of the browser beside showing things.

const SAVED = ".st-key-kept"; // what is typed in there is kept in the notebook
const HELD = 700; // milliseconds that it may stand in its box alone

const held = new Map(); // box -> what will hand it over

/** Streamlit takes a text when its box is left: what is kept is handed over while it is typed. */
function typed({ target }) {
  if (!target.closest?.(SAVED) || held.has(target)) return;
  // Not put off by the next letter: who types on without a pause is no less safe.
  held.set(target, setTimeout(hand, HELD, target));
}

function hand(box) {
  held.delete(box);
  take(box);
}

/**
 * As if by the key that Streamlit takes a text by: caret, selection, undo and a letter that is being
 * made of several keys stay as they are. On phones every word is being made until the next one begins.
 */
function take(box) {
  box.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", ctrlKey: true, bubbles: true }));
}

const SETTLED = 60; // milliseconds until a box knows what was pasted into it
const SURELY = [300, 1000, 3000]; // and by when a busy browser has told it

/** A text that is pasted is taken at once, by leaving its box; where the box did not know of it yet, a little later. */
function pasted({ target }) {
  if (!(target instanceof HTMLTextAreaElement) || target.closest(SAVED)) return;
  setTimeout(() => {
    target.blur();
    // A finger wants to see what came of it, not the keyboard; keys go on where they were.
    if (matchMedia("(pointer: fine)").matches) target.focus({ preventScroll: true });
  }, SETTLED);
  // Means nothing to a box whose text was taken.
  for (const later of SURELY) setTimeout(take, later, target);
}

const heights = new Map(); // place on the page -> how far down it was when it was touched last
let place = null;

const main = () => document.querySelector('[data-testid="stMain"]');
const touched = () => main() && heights.set(place, main().scrollTop);

const PATIENCE = 1000; // milliseconds until what a tap leads to must be there
const STEP = 3000; // milliseconds that a step back may take
let stepped = -STEP; // when the browser's "back" or "forward" was pressed last

/** The browser's "back" goes to the step before inside the page, which the server knows. */
function went({ state }) {
  if (!state?.rimtally || state.rimtally === place) return;
  stepped = performance.now();
  tell("went", state.rimtally);
}

/** Another view begins at its top; one that is come back to, where it was left. */
function arrive(at) {
  if (place === at) return;
  const first = place === null;
  place = at;
  const step = { ...history.state, rimtally: at };
  if (first || performance.now() - stepped < STEP) history.replaceState(step, "");
  else history.pushState(step, "");
  stepped = -STEP;
  if (!first && at.startsWith("photo-")) read(performance.now() + PATIENCE);
  if (!first) requestAnimationFrame(() => main()?.scrollTo(0, heights.get(at) ?? 0));
}

/** Whoever hears the page hears the answer next: the focus goes there, and nothing scrolls for it. */
function read(until) {
  const answer = document.querySelector(".answer");
  if (answer) answer.focus({ preventScroll: true });
  else if (performance.now() < until) requestAnimationFrame(() => read(until));
}

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

const uploader = () => document.querySelector('[data-testid="stFileUploader"] input[type="file"]');

let camera = null;

/** "Take a photo" opens the camera; what it takes goes the way of a file that was chosen. */
function pictured({ target }) {
  if (target.closest?.("[data-choose]")) uploader()?.click();
  if (!target.closest?.("[data-take]") || !uploader()) return;
  camera?.remove();
  camera = Object.assign(document.createElement("input"), { type: "file", accept: "image/*", hidden: true });
  camera.setAttribute("capture", "environment");
  document.body.append(camera); // one that is nowhere may be cleared away before its photo comes
  camera.addEventListener("change", () => {
    const input = uploader();
    if (!input || !camera.files.length) return;
    input.files = camera.files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  camera.click();
}

const FILE = "st-key-save-"; // begins the name of what holds a button that saves a file
let tell = null;

/** A file that does not come is told to the page, which says why; one that comes takes that line away. */
function saving({ target }) {
  const button = target.closest?.("button");
  const box = button?.closest(`[class*="${FILE}"]`);
  if (!box) return;
  let waited = false; // the button can't be pressed while it waits
  const watch = new MutationObserver(() => {
    waited ||= button.disabled;
    if (!waited || button.disabled) return;
    watch.disconnect();
    const name = [...box.classList].find((own) => own.startsWith(FILE)).slice(FILE.length);
    if (box.querySelector('[data-testid="stDownloadButtonError"]')) tell("waited", name);
    else if (box.querySelector(".amiss")) tell("waited", "");
  });
  watch.observe(box, { attributes: true, childList: true, subtree: true });
}

const STATE = "data-test-connection-state"; // how Streamlit says whether its server is there
const OVER = "DISCONNECTED_FOREVER"; // how it says that it gave up
const BLINK = 400; // milliseconds that a connection may be away unsaid
const ANEW = 60_000; // milliseconds until the page may be loaded anew by itself once more
let away = 0;

/** Load the page anew where Streamlit gave up for good: all that stood is remembered. Not over and over. */
function begunAnew() {
  try {
    if (Date.now() - Number(sessionStorage["rimtally-anew"] ?? 0) < ANEW) return false;
    sessionStorage["rimtally-anew"] = Date.now();
  } catch {
    return false; // without a memory nothing tells how often
  }
  location.reload();
  return true;
}

/** Say in the page's own words that its server is gone, until it is back; Streamlit tries again by itself. */
function watch(said) {
  const app = document.querySelector(`[${STATE}]`);
  if (!app) return;
  const told = document.createElement("p");
  told.className = "server-gone";
  told.setAttribute("role", "alert");
  new MutationObserver(() => {
    clearTimeout(away);
    if (app.getAttribute(STATE) === "CONNECTED") {
      delete document.documentElement.dataset.serverGone;
      told.remove();
      return;
    }
    if (app.getAttribute(STATE) === OVER && begunAnew()) return;
    away = setTimeout(() => {
      document.documentElement.dataset.serverGone = "";
      told.textContent = said;
      document.body.append(told);
    }, BLINK);
  }).observe(app, { attributes: true, attributeFilter: [STATE] });
}

/** A place to drop files that has a name is no mere decoration (ARIA in HTML: a name and "presentation" conflict). */
function named() {
  waits = false;
  for (const one of document.querySelectorAll('[data-testid="stFileUploaderDropzone"][role="presentation"]')) {
    one.setAttribute("role", "group");
    // What its button says is a style's (home.css), which not everybody hears.
    const said = getComputedStyle(document.documentElement).getPropertyValue("--choose-file");
    one.querySelector("button")?.setAttribute("aria-label", said.trim().replaceAll('"', ""));
  }
}

let waits = false; // parts that came are looked at in the next frame
const came = new MutationObserver(() => {
  if (!waits) requestAnimationFrame(named);
  waits = true;
});

/** A phone can put the page on its home screen. */
function standing() {
  const links = { manifest: "manifest.webmanifest", "apple-touch-icon": "icon-192.png" };
  for (const [rel, href] of Object.entries(links)) {
    // With its cookie: a phone beside the desk is known by it.
    document.head.append(Object.assign(document.createElement("link"), { rel, href, crossOrigin: "use-credentials" }));
  }
}

let listening = false;

export default function ({ data, setTriggerValue }) {
  tell = setTriggerValue;
  if (!listening) {
    document.addEventListener("paste", pasted);
    // What was pasted before anybody listened.
    document.querySelectorAll("textarea").forEach(take);
    document.addEventListener("input", typed);
    document.addEventListener("click", pictured);
    came.observe(document.body, { childList: true, subtree: true });
    named();
    standing();
    addEventListener("popstate", went);
    document.addEventListener("click", saving, true); // before the button itself knows of it
    for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, touched, true);
    watch(data.gone);
  }
  listening = true;
  document.documentElement.lang = data.language;
  arrive(data.place);
  offer(data.asked);
  // In the place of the last one: "back" goes through views, not through rounds that were stepped through.
  if (data.query !== null && location.search !== data.query) {
    history.replaceState(history.state, "", location.pathname + data.query + location.hash);
  }
}
