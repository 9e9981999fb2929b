// Remembers in this browser what stands on the page, so that a reload, or a server that was started again, finds it.

const SKETCH = "rimtally-sketch"; // what stands, but for the photo
const TRAIL = "rimtally-trail"; // what undo and redo go back to
const PICTURE = "rimtally-picture"; // the photo, reduced
let visit = null; // the server's name for this visit
let written = null; // name of the photo that is remembered
let latest = null; // what was told last
let mine = false; // what is remembered comes from this tab, or was handed to it

/** This tab's own memory, and where it may last the one that all tabs of this browser share. */
const memories = (lasting) => (lasting ? [sessionStorage, localStorage] : [sessionStorage]);

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

/** Remember what stands, or forget it where that is over. */
function keep(data) {
  const pictures = window.rimPictures?.name === data.name ? window.rimPictures : null;
  if (data.sketch && !pictures) {
    window.addEventListener("rim-pictures", () => latest === data && keep(data), { once: true });
    return;
  }
  for (const memory of attempt(() => memories(data.lasting)) ?? []) {
    if (data.sketch) remember(memory, data, written === data.name ? null : pictures.picture);
    else if (data.over && mine) forget(memory);
  }
  mine = Boolean(data.sketch) || !data.over;
  written = data.sketch ? data.name : null;
}

function unfinished(event) {
  event.preventDefault();
}

export default function ({ data, setTriggerValue }) {
  latest = data;
  if (data.visit !== visit) {
    // The server knows nothing of this tab: tell it what is remembered, this tab's own first.
    visit = data.visit;
    written = null;
    for (const memory of attempt(() => memories(data.lasting)) ?? []) {
      const stood = attempt(() => found(memory));
      if (!stood) continue;
      mine = true;
      setTriggerValue("found", { ...stood, own: memory === sessionStorage });
      return;
    }
  }
  (data.ask ? addEventListener : removeEventListener)("beforeunload", unfinished);
  keep(data);
}
