const NS = "http://www.w3.org/2000/svg";

function element(name, attributes, parent) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent.appendChild(made);
  return made;
}

function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)];
}

export default function ({ parentElement, data, setTriggerValue }) {
  let box = parentElement.querySelector(".rim");
  if (!box) {
    box = document.createElement("div");
    box.className = "rim";
    parentElement.appendChild(box);
  }
  box.replaceChildren();
  const { width, height, image, marks, doubts, centre, label } = data;
  const svg = element("svg", { viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": label }, box);
  element("image", { href: image, width, height }, svg);

  const pitch = marks.length > 1
    ? median(marks.map(([x, y], i) => {
        const [u, v] = marks[(i + 1) % marks.length];
        return Math.hypot(u - x, v - y);
      }))
    : width / 12;
  const size = Math.min(Math.max(0.17 * pitch, 0.004 * width), 0.012 * width);
  const line = size / 4;
  for (const [x, y] of doubts) {
    const half = Math.max(0.7 * pitch, 2.5 * size);
    for (const [kind, thick] of [["doubt under", 3 * line], ["doubt", 2 * line]]) {
      element("rect", { class: kind, x: x - half, y: y - half, width: 2 * half, height: 2 * half, "stroke-width": thick }, svg);
    }
  }
  const every = pitch > 0.024 * width ? 1 : 5;
  marks.forEach(([x, y], i) => {
    const group = element("g", {
      class: i === 0 ? "mark first" : "mark", tabindex: 0, role: "button",
      "aria-label": `${i + 1}`, "data-mark": i + 1,
    }, svg);
    element("circle", { cx: x, cy: y, r: Math.max(0.42 * pitch, size), fill: "transparent" }, group);
    if (i === 0) {
      const big = 1.7 * size;
      element("path", { class: "dot", d: `M${x},${y - big}l${big},${big}l${-big},${big}l${-big},${-big}z`, "stroke-width": line }, group);
    } else {
      element("circle", { class: "dot", cx: x, cy: y, r: size, "stroke-width": line }, group);
    }
    if (i === 0 || (i + 1) % every === 0) {
      const font = Math.min(Math.max(0.55 * pitch, 0.014 * width), 0.028 * width);
      const away = Math.hypot(x - centre[0], y - centre[1]) || 1;
      const reach = (0.7 * pitch + 0.5 * font) / away;
      const text = element("text", {
        x: x + (x - centre[0]) * reach, y: y + (y - centre[1]) * reach,
        "font-size": font, "stroke-width": font / 5,
      }, group);
      text.textContent = i + 1;
    }
    const remove = (event) => {
      event.stopPropagation();
      setTriggerValue("edit", { do: "remove", index: i });
    };
    group.addEventListener("click", remove);
    group.addEventListener("keydown", (event) => {
      if (event.key === "Delete" || event.key === "Backspace") remove(event);
    });
  });
  svg.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    setTriggerValue("edit", { do: "add", x: at.x, y: at.y });
  });
}
