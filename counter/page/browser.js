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

let listening = false;

export default function ({ data }) {
  if (!listening) document.addEventListener("paste", pasted);
  listening = true;
  // In the place of the last one: "back" leaves the page, whatever was stepped through.
  if (data.query !== null && location.search !== data.query) {
    history.replaceState(history.state, "", location.pathname + data.query + location.hash);
  }
}
