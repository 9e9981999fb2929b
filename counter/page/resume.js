// Remembers in this browser what stands on the page, so that a reload, or a server that was started again, finds it.

const SKETCH = "rimtally-sketch"; // what stands, but for the photo
const TRAIL = "rimtally-trail"; // what undo and redo go back to
const PICTURE = "rimtally-picture"; // the photo, reduced
let visit = null; // the server's name for this visit
let written = null; // name of the photo that is remembered
let latest = null; // what was told last
let tell = null; // tells the server
let mine = false; // the photo that is remembered comes from this tab, or was handed to it
let told = 0; // times that the server was told what was found
let looking = false; // what is remembered is just being read
let handing = false; // the server waits for all of it
let safe = false; // the sheet is remembered to its last edit

/** This tab's own memory, and where it may last the one that all tabs of this browser share. */
const memories = (lasting) => attempt(() => (lasting ? [sessionStorage, localStorage] : [sessionStorage])) ?? [];

/** Do something with a memory; a browser may have none, or no room in it. */
function attempt(what) {
  try {
    return what();
  } catch {
    return null;
  }
}

function found(memory) {
  const [sketch, trail, picture] = [SKETCH, TRAIL, PICTURE].map((name) => attempt(() => memory.getItem(name)));
  return sketch && picture ? { sketch, trail, picture } : null;
}

function forget(memory) {
  for (const name of [SKETCH, TRAIL, PICTURE]) attempt(() => memory.removeItem(name));
}

function remember(memory, { sketch, trail }, picture) {
  attempt(() => {
    try {
      if (picture) memory.setItem(PICTURE, picture);
      memory.setItem(SKETCH, sketch);
      memory.setItem(TRAIL, trail);
    } catch (error) {
      forget(memory); // half of it would be of no use
      throw error;
    }
  });
}

/** Remember the photo that stands by itself, or forget it where that is over. */
function keep(data) {
  const stands = data.sketch && !(able && data.sheet?.open);
  const pictures = window.rimPictures?.name === data.name ? window.rimPictures : null;
  if (stands && !pictures) {
    window.addEventListener("rim-pictures", () => latest === data && keep(data), { once: true });
    return;
  }
  for (const memory of memories(data.lasting)) {
    if (stands) remember(memory, data, written === data.name ? null : pictures.picture);
    else if (data.over && mine) forget(memory);
  }
  mine = Boolean(stands) || !data.over;
  written = stands ? data.name : null;
}

// The sheet ---------------------------------------------------------------------

let work = Promise.resolve();

/** One after the other; what goes wrong leaves the sheet unsafe, and the page asks before it is left. */
function inTurn(step) {
  work = work.then(step).catch((error) => console.warn("the sheet is not remembered", error));
}

/** See whether the sheet is safe; gives the photos of which something is missing. */
function judge({ revisions }) {
  const missing = sheet.missing(revisions);
  safe = !missing.length;
  ask();
  return missing;
}

async function keepSheet(data) {
  await turnTo(data.sheet.name, data.lasting);
  await sheet.keep(data.sheet, { entry: data.sketch, trail: data.trail });
  if (data !== latest) return;
  const wanted = judge(data.sheet).filter((photo) => {
    const times = sheet.asked.get(photo) ?? 0;
    if (data.sheet.handed.includes(photo) || times >= TRIES) return false;
    sheet.asked.set(photo, times + 1);
    return true;
  });
  if (wanted.length) tell("wanted", Object.fromEntries(wanted.map((photo) => [photo, !sheet.revisions.has(photo)])));
}

/** Take in a photo of the sheet. */
function takePhoto(data) {
  beingCounted(data.head.rest);
  if (!able) return;
  inTurn(async () => {
    await turnTo(data.sheet, data.lasting);
    await sheet.take(data);
    sheet.asked.delete(data.photo);
    if (latest?.sheet?.name === data.sheet) judge(latest.sheet);
  });
}

function unfinished(event) {
  event.preventDefault();
}

/** Ask before the page is left where something would be lost. */
function ask() {
  const lost = latest.ask && !(safe && latest.lasting);
  (lost ? addEventListener : removeEventListener)("beforeunload", unfinished);
}

// Both --------------------------------------------------------------------------

/** Tell the server what is remembered, this tab's own first; gives what of a sheet is this tab's. */
async function look({ lasting, hand }) {
  for (const memory of memories(lasting)) {
    const own = hand || memory === sessionStorage;
    const photo = found(memory);
    const several = able ? await sheetIn(memory, own).catch(() => null) : null;
    if (!photo && !several) continue;
    mine = true;
    told += 1;
    tell("found", { own, photo, sheet: several });
    return own ? several : null;
  }
  if (hand) {
    told += 1;
    tell("found", { own: true, photo: null, sheet: null });
  }
  return null;
}

function lookFor(data) {
  looking = true;
  inTurn(async () => {
    let several = null;
    try {
      several = await look(data);
    } finally {
      looking = false;
      if (latest !== data || !told) take(latest);
    }
    if (!data.hand) await handOverAgain(several);
    if (able) await clearAway();
  });
}

/** Remember what was told. */
function take(data) {
  safe = false;
  ask();
  // Until the server has heard what was found, nothing of it is over.
  if (!data.sketch && !data.sheet && (looking || data.heard < told)) return;
  keep(data);
  if (!able) return;
  if (data.sheet) inTurn(() => keepSheet(data));
  else if (data.over) inTurn(forgetSheet);
}

/** Take in how the page stands. */
function standing(data) {
  if (!latest) {
    latest = data;
    chosenBefore();
  }
  latest = data;
  waitedFor(data);
  const asked = data.hand && !handing;
  handing = data.hand;
  if (data.visit === visit && !asked) return take(data);
  // The server knows nothing of this tab.
  if (data.visit !== visit) [written, told] = [null, 0];
  if (visit && data.visit !== visit) since = null; // what it was to count is gone with it
  visit = data.visit;
  lookFor(data);
}

/** Take in what was told, see told.js. */
function listen() {
  for (const data of window.rimTold?.splice(0) ?? []) (data.photo ? takePhoto : standing)(data);
}

let listening = false;

export default function ({ setTriggerValue }) {
  tell = setTriggerValue;
  if (!listening) {
    addEventListener("rim-told", listen);
    for (const kind of ["change", "drop"]) document.addEventListener(kind, chosen, true);
  }
  listening = true;
  listen();
}
