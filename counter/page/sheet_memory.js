// Remembers a sheet of photos in this browser's database, sealed: only who has the key can read it.
//
// The key lies in the tab's own memory and goes with the tab; on the visitor's own machine it lies in the memory
// that all tabs share, too. A tab holds a lock on its sheet, so that no other tab takes it up or clears it away.

const KEY = "rimtally-sheet"; // in a tab's memory: which sheet, and what opens it
const STORE = "sheets"; // in the database: [sheet, name of a record] -> sealed record
const LINGER = 24 * 3600 * 1000; // milliseconds that a sheet which no tab holds any more waits for its tab to come back
const CLAIM = 1500; // milliseconds until a sheet counts as that of another tab
const TRIES = 3; // times that the server is asked for the same record

/** Whether this browser can do all that; over plain http it can't. */
const able = Boolean(globalThis.crypto?.subtle && globalThis.indexedDB && globalThis.navigator?.locks);
const [PHOTO, SKETCH_OF, HEAD] = ["photo-", "sketch-", "head"]; // names of records

let base = null;
function database() {
  base ??= new Promise((resolve, reject) => {
    const opening = indexedDB.open("rimtally", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore(STORE);
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => {
      opening.result.onclose = () => (base = null);
      resolve(opening.result);
    };
  });
  base.catch(() => (base = null));
  return base;
}

/** Do something with the records; resolves once it is done for good. */
async function records(mode, what) {
  const transaction = (await database()).transaction(STORE, mode);
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error);
  });
  const asked = what(transaction.objectStore(STORE));
  await done;
  return asked?.result;
}

const allOf = (sheet) => IDBKeyRange.bound([sheet], [sheet, []]);

const locks = new Map(); // sheet -> what lets go of it

/** Make a sheet this tab's own; false where another tab has it. */
function claimed(sheet) {
  if (locks.has(sheet)) return true;
  return new Promise((resolve) => {
    const hold = () => {
      resolve(true);
      return new Promise((letGo) => locks.set(sheet, letGo));
    };
    const patience = { signal: AbortSignal.timeout(CLAIM) };
    navigator.locks.request(`${KEY}-${sheet}`, patience, hold).catch(() => resolve(false));
  });
}

function letGo(sheet) {
  locks.get(sheet)?.();
  locks.delete(sheet);
}

async function seal(key, text) {
  const iv = crypto.getRandomValues(new Uint8Array(12)); // AES-GCM: never the same twice under one key
  const data = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, new TextEncoder().encode(text));
  return { iv, data, at: Date.now() };
}

/** What a record holds, null where it can't be read. */
async function unsealed(key, record) {
  try {
    const data = await crypto.subtle.decrypt({ name: "AES-GCM", iv: record.iv }, key, record.data);
    return JSON.parse(new TextDecoder().decode(data));
  } catch {
    return null;
  }
}

/** The key that a memory keeps as a text. */
async function opener(text) {
  const raw = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return crypto.subtle.importKey("raw", raw, "AES-GCM", false, ["encrypt", "decrypt"]);
}

/** Which sheet a memory knows of. */
function pointer(memory) {
  const stood = attempt(() => JSON.parse(memory.getItem(KEY)));
  return typeof stood?.sheet === "string" && typeof stood.key === "string" ? stood : null;
}

class Sheet {
  constructor(name, key) {
    this.name = name;
    this.key = key;
    this.revisions = new Map(); // photo -> revision of its sketch, where both are here
    this.there = new Set(); // photos of which there is any record
    this.head = null; // as it was written last
    this.asked = new Map(); // what the server was asked for -> how often
  }

  static async begun(name, lasting) {
    const key = btoa(String.fromCharCode(...crypto.getRandomValues(new Uint8Array(32))));
    await claimed(name);
    for (const memory of memories(lasting)) memory.setItem(KEY, JSON.stringify({ sheet: name, key }));
    return new Sheet(name, await opener(key));
  }

  async write(parts) {
    const sealed = [];
    for (const [name, what] of parts) sealed.push([name, await seal(this.key, JSON.stringify(what))]);
    const put = (store) => sealed.forEach(([name, record]) => store.put(record, [this.name, name]));
    await records("readwrite", put).catch((error) => {
      this.head = null; // it may not have been written
      throw error;
    });
  }

  /** The parts of the head that need to be written. */
  headed(head) {
    const said = JSON.stringify(head);
    if (said === this.head) return [];
    this.head = said;
    return [[HEAD, head]];
  }

  /** Remember one photo, and how the sheet stands with it. */
  async take({ head, photo, revision, sketch, picture }) {
    const parts = [...this.headed(head), [SKETCH_OF + photo, { revision, sketch }]];
    if (picture !== null) parts.push([PHOTO + photo, picture]); // empty where there was none to look at
    this.there.add(photo);
    await this.write(parts);
    if (picture !== null || this.revisions.has(photo)) this.revisions.set(photo, revision);
  }

  /** The photos of which something is missing. */
  missing(revisions) {
    return Object.keys(revisions).filter((photo) => this.revisions.get(photo) !== revisions[photo]);
  }

  /** Remember how the sheet stands. */
  async keep({ head, revisions, open }, sketch) {
    const parts = this.headed(head);
    if (open && this.revisions.has(open.photo) && this.revisions.get(open.photo) !== open.revision) {
      parts.push([SKETCH_OF + open.photo, { revision: open.revision, sketch: { name: open.name, ...sketch } }]);
    }
    if (parts.length) await this.write(parts);
    if (parts.some(([name]) => name !== HEAD)) this.revisions.set(open.photo, open.revision);
    const gone = [...this.there].filter((photo) => !(photo in revisions));
    if (gone.length) {
      await records("readwrite", (store) => {
        for (const photo of gone) for (const what of [PHOTO, SKETCH_OF]) store.delete([this.name, what + photo]);
      });
      for (const photo of gone) [this.there, this.revisions].forEach((held) => held.delete(photo));
    }
  }

  /** All that is remembered, or only the first photo of it; null where there is nothing. */
  async read(whole) {
    const names = (await records("readonly", (store) => store.getAllKeys(allOf(this.name)))).map(([, name]) => name);
    if (!names.length) return null;
    const read = async (name) =>
      unsealed(this.key, await records("readonly", (store) => store.get([this.name, name])));
    const photos = names.filter((name) => name.startsWith(PHOTO)).map((name) => name.slice(PHOTO.length));
    this.there = new Set(photos);
    this.revisions.clear();
    const head = await read(HEAD);
    this.head = head && JSON.stringify(head);
    const parts = [];
    // Without its head the photos are still there, but in no order.
    const order = Array.isArray(head?.order) ? head.order : photos;
    for (const photo of order) {
      const [told, picture] = [await read(SKETCH_OF + photo), await read(PHOTO + photo)];
      if (told === null || picture === null) continue;
      this.revisions.set(photo, told.revision);
      parts.push({ photo, ...told, picture });
      if (!whole) break;
    }
    return { name: this.name, head, many: order.length, parts };
  }

  async forget() {
    for (const memory of memories(true)) {
      if (pointer(memory)?.sheet === this.name) memory.removeItem(KEY);
    }
    await records("readwrite", (store) => store.delete(allOf(this.name)));
    letGo(this.name);
  }
}

let sheet = null; // the one that this tab remembers

/** Make the sheet of that name the one that is remembered. */
async function turnTo(name, lasting) {
  if (sheet?.name === name) return;
  await forgetSheet();
  sheet = await Sheet.begun(name, lasting);
}

async function forgetSheet() {
  const gone = sheet;
  sheet = null;
  await gone?.forget();
}

/** What a memory knows of a sheet: all of it where this tab goes on with it. */
async function sheetIn(memory, whole) {
  const stood = pointer(memory);
  if (!stood || !(await claimed(stood.sheet))) return null;
  const key = await opener(stood.key).catch(() => null);
  const known = sheet?.name === stood.sheet ? sheet : new Sheet(stood.sheet, key);
  const found = await known.read(whole);
  if (!found) {
    memory.removeItem(KEY);
    letGo(stood.sheet);
    return null;
  }
  sheet = known;
  if (whole) sessionStorage.setItem(KEY, JSON.stringify(stood));
  return found;
}

/** Delete what nobody can read any more. */
async function clearAway() {
  const { held } = await navigator.locks.query();
  const needed = new Set(held.map((lock) => lock.name));
  for (const memory of memories(true)) needed.add(`${KEY}-${pointer(memory)?.sheet}`);
  const names = await records("readonly", (store) => store.getAllKeys());
  for (const name of new Set(names.map(([name]) => name))) {
    if (needed.has(`${KEY}-${name}`)) continue;
    const written = (await records("readonly", (store) => store.getAll(allOf(name)))).map((record) => record?.at ?? 0);
    if (Math.max(...written) < Date.now() - LINGER) await records("readwrite", (store) => store.delete(allOf(name)));
  }
}
