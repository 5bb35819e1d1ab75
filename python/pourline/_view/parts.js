// In: what a page shall have. Out: its elements, what sliders and pointers share, and where in a brew an instant lies.

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

/** A drawing from its text: it becomes nodes that are put in, never markup that is parsed in the page. */
function parsed(svg) {
  return document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
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

/** Which pour, rest or drawdown an instant lies in, and how far in. */
function phaseAt(at_s, pours, brew_start_s, drawdown_end_s) {
  const within = (name, start_s, end_s) => `${name}, ${told(at_s - start_s, 1)} of ${told(end_s - start_s, 1)} s`;
  if (!pours.length) return "no pour";
  if (at_s < pours[0][0]) return at_s < brew_start_s ? "preparation" : `before pour 1, ${told(pours[0][0] - at_s, 1)} s to go`;
  for (let k = 0; k < pours.length; k++) {
    const [start_s, end_s] = pours[k];
    if (at_s <= end_s) return within(`pour ${k + 1}`, start_s, end_s);
    if (k + 1 < pours.length && at_s < pours[k + 1][0]) return within(`rest ${k + 1}`, end_s, pours[k + 1][0]);
  }
  const end_s = pours[pours.length - 1][1];
  if (drawdown_end_s !== null && at_s <= drawdown_end_s) return within("drawdown", end_s, drawdown_end_s);
  return drawdown_end_s !== null && drawdown_end_s > end_s
    ? `after the drawdown, ${told(at_s - drawdown_end_s, 1)} s`
    : `after pour ${pours.length}, ${told(at_s - end_s, 1)} s`;
}
