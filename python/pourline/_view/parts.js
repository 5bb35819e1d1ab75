// In: what a page shall have. Out: its elements, and what sliders and pointers share.

// What has the focus keeps its keys: else a notebook takes them for its own, and d d is a cell gone.
const KEYS_ARE_MINE = { "data-lm-suppress-shortcuts": "true" };

function made(tag, { className, ...rest } = {}, ...inside) {
  const node = document.createElement(tag);
  if (className) node.className = className.replace(/\S+/g, "pourline-$&");
  for (const [name, value] of Object.entries(rest)) node.setAttribute(name, value);
  node.append(...inside);
  return node;
}

function button(text, act) {
  const node = made("button", { type: "button", ...KEYS_ARE_MINE }, text);
  node.addEventListener("click", act);
  return node;
}

/** The place of one number of what stands at the line, with the look of its curve: the legend too. */
function item({ name, colour, dashed }) {
  const look = { x1: 0, x2: 20, y1: 4, y2: 4, stroke: colour, "stroke-width": 2.4, "stroke-dasharray": dashed ? "6 3" : "none" };
  const sample = colour ? [drawn("svg", { width: 20, height: 8, "aria-hidden": "true" }, drawn("line", look))] : [];
  const wide = name === "where" ? "item where" : name.startsWith("flow") ? "item flow" : "item";
  const number = made("b");
  return { name, number, node: made("div", { className: wide }, made("span", {}, ...sample, name), number) };
}

function valued(slider, low, high, at, text) {
  slider.setAttribute("aria-valuemin", told(Math.min(low, high), 2));
  slider.setAttribute("aria-valuemax", told(high, 2));
  slider.setAttribute("aria-valuenow", told(at, 2));
  slider.setAttribute("aria-valuetext", text);
}

function taken(event) {
  event.preventDefault();
  event.stopPropagation();
}

/** Follow the pointer that pressed until it lets go; `done` hears whether it was kept or cancelled. */
function followed(node, pressed, move, done = () => {}) {
  const stop = new AbortController();
  const end = (kept) => (event) => {
    if (event.pointerId !== pressed.pointerId) return;
    stop.abort();
    done(kept);
  };
  node.setPointerCapture(pressed.pointerId);
  const signal = { signal: stop.signal };
  node.addEventListener("pointermove", (event) => event.pointerId === pressed.pointerId && move(event), signal);
  node.addEventListener("pointerup", end(true), signal);
  node.addEventListener("pointercancel", end(false), signal);
  node.addEventListener("keydown", (event) => event.key === "Escape" && stop.abort(), signal);
}
