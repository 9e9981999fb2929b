// Holds on to photos that were chosen until they are counted: a reload on the way has them counted all the same.
//
// They lie in this browser's database, sealed like a sheet, with the key in this tab's memory alone, and go as soon as
// there is an answer. Over plain http, where nothing can be sealed, one photo lies in the tab's memory itself.

const DROPPED = "rimtally-dropped"; // in the tab's memory: which photos, and what opens them
const UPLOADERS = { photo: '[class*="st-key-photo-"]', more: '[class*="st-key-more-"]' };
const LARGEST = 25 * 2 ** 20; // bytes of a file that the page takes
const APPEAR = 20_000; // milliseconds until the place to drop them must be there again
let since = null; // what the page counted last when they were chosen
let begun = 0; // how many of them the server set out to count; how many are left is known from the sheet
let feeding = false; // they are just being handed over again

const waiting = () => attempt(() => JSON.parse(sessionStorage.getItem(DROPPED)));
const note = (stood) => attempt(() => sessionStorage.setItem(DROPPED, JSON.stringify(stood)));
const inHex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
const inBase64 = (bytes) => btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
const asText = (file) =>
  new Promise((resolve) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result.slice(reader.result.indexOf(",") + 1));
    reader.readAsDataURL(file);
  });
const fromBase64 = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

/** Photos were chosen, or dropped, to be counted. */
function chosen({ type, target, dataTransfer }) {
  if (feeding || !target.closest?.(Object.values(UPLOADERS).join())) return;
  const files = [...((type === "drop" ? dataTransfer?.files : target.files) ?? [])].filter(
    ({ size }) => size <= LARGEST,
  );
  if (!files.length || !latest) return;
  [since, begun] = [latest.name, 0];
  const at = since;
  inTurn(() => holdOn(files, at));
}

/** What was chosen before anybody listened. */
function chosenBefore() {
  for (const box of Object.values(UPLOADERS)) {
    const target = document.querySelector(`${box} input[type="file"]`);
    if (target) chosen({ type: "change", target });
  }
}

async function holdOn(files, at) {
  await letDroppedGo();
  const known = ({ name, type }) => ({ name, type });
  if (!able) {
    if (files.length === 1) note({ files: [{ ...known(files[0]), data: await asText(files[0]) }] });
    return;
  }
  const stood = {
    sheet: inHex(crypto.getRandomValues(new Uint8Array(8))),
    key: inBase64(crypto.getRandomValues(new Uint8Array(32))),
    files: [],
  };
  await claimed(stood.sheet);
  const key = await opener(stood.key);
  for (const [index, file] of files.entries()) {
    const iv = crypto.getRandomValues(new Uint8Array(12)); // as in seal
    const data = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, await file.arrayBuffer());
    if (since !== at) return; // they are counted already
    // First where it is: what nobody knows of could not be cleared away.
    note({ ...stood, begun });
    await records("readwrite", (store) => store.put({ iv, data, at: Date.now() }, [stood.sheet, `file-${index}`]));
    stood.files.push({ ...known(file), place: `file-${index}` });
    note({ ...stood, begun });
  }
}

/** They are counted, or not to be any more. */
async function letDroppedGo() {
  const stood = waiting();
  attempt(() => sessionStorage.removeItem(DROPPED));
  if (!stood?.sheet) return;
  await records("readwrite", (store) => store.delete(allOf(stood.sheet)));
  letGo(stood.sheet);
}

/** See by how the page stands whether they are still waited for. */
function waitedFor(data) {
  if (since === null) return;
  if (data.name !== since || !document.querySelector(Object.values(UPLOADERS).join())) {
    since = null;
    inTurn(letDroppedGo);
  } else {
    beingCounted(data.sheet?.head.rest);
  }
}

/** The server has begun with them. */
function beingCounted(rest) {
  if (since === null || begun || !rest) return;
  begun = rest;
  const stood = waiting();
  if (stood) note({ ...stood, begun });
}

/** What was waited for when this tab was left, as files, from one on. */
async function heldFiles(stood, first) {
  const files = [];
  for (const { name, type, data, place } of stood.files.slice(first)) {
    if (!stood.sheet) {
      files.push(new File([fromBase64(data)], name, { type }));
      continue;
    }
    const record = await records("readonly", (store) => store.get([stood.sheet, place]));
    const opened = { name: "AES-GCM", iv: record.iv };
    files.push(new File([await crypto.subtle.decrypt(opened, await opener(stood.key), record.data)], name, { type }));
  }
  return files;
}

/** The place to drop photos, as soon as it is there. */
function uploaderIn(box) {
  const until = performance.now() + APPEAR;
  return new Promise((resolve) => {
    (function look() {
      const input = document.querySelector(`${box} input[type="file"]`);
      if (input || performance.now() > until) resolve(input);
      else setTimeout(look, 50);
    })();
  });
}

/** Hand over again what was not counted when this tab was left; what came back of a sheet says how far it was. */
async function handOverAgain(several) {
  if (since !== null) return; // they were chosen just now
  const stood = waiting();
  if (!stood?.files?.length) return letDroppedGo();
  if (stood.sheet) await claimed(stood.sheet);
  const first = stood.begun ? stood.begun - (several?.head?.rest ?? stood.begun) : 0;
  const files = await heldFiles(stood, first);
  const input = files.length ? await uploaderIn(several ? UPLOADERS.more : UPLOADERS.photo) : null;
  if (!input) return letDroppedGo();
  [since, begun] = [latest.name, 0];
  const handed = new DataTransfer();
  for (const file of files) handed.items.add(file);
  note({ ...stood, begun, files: stood.files.slice(first) });
  feeding = true;
  input.files = handed.files;
  input.dispatchEvent(new Event("change", { bubbles: true }));
  feeding = false;
}
