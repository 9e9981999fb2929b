// Passes on to resume.js what is to be remembered: that script, which never changes, is sent once.

export default function ({ data }) {
  (window.rimTold ??= []).push(data);
  window.dispatchEvent(new Event("rim-told"));
}
