// The photos of a sheet: each is sent once, for the browser to remember.

export default function ({ data }) {
  (window.rimSheet ??= []).push(data);
  window.dispatchEvent(new Event("rim-sheet"));
}
