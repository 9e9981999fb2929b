// The pictures of a photo: they are sent once, not with every change of the marks.

export default function ({ data }) {
  window.rimPictures = data;
  window.dispatchEvent(new Event("rim-pictures"));
}
