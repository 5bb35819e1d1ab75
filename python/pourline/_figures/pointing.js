// In: a figure as SVG, whose lines carry their names and ranges. Out: the values at an instant, read from its lines,
// with a line and dots there. Card, page and view share it; the figure is complete without it.

const SVG_NAME = "http://www.w3.org/2000/svg";
const STEP_PX = 4;
const ARROWS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 };

const told = (value, digits) => (Number.isFinite(value) ? value.toFixed(digits).replace(/^-(0\.?0*)$/, "$1") : "–");
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
/** A time as minutes and seconds, to a tenth. */
function clock(at_s) {
  const tenths = Math.round(Math.abs(at_s) * 10);
  const [minutes, rest] = [Math.floor(tenths / 600), tenths % 600];
  return `${at_s < 0 && tenths ? "-" : ""}${minutes}:${(rest / 10).toFixed(1).padStart(4, "0")}`;
}
const numbers = (text) => (text.match(/-?\d*\.?\d+(?:e[+-]?\d+)?/g) ?? []).map(Number);

function drawn(tag, attributes = {}, ...inside) {
  const node = document.createElementNS(SVG_NAME, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...inside);
  return node;
}

/** The stretches of a path: a point, and after it how far it is to each of the next. */
function stretches(path) {
  return path.split("M").slice(1).map((part) => {
    const steps = numbers(part);
    const found = { x: [steps[0]], y: [steps[1]] };
    for (let k = 2; k + 1 < steps.length; k += 2) {
      found.x.push(found.x.at(-1) + steps[k]);
      found.y.push(found.y.at(-1) + steps[k + 1]);
    }
    return found;
  });
}

/** How high a line stands at a place across, in a straight line between its points; NaN where it has nothing. */
function heightAt(found, x) {
  const part = found.find((one) => x >= one.x[0] - 0.01 && x <= one.x.at(-1) + 0.01);
  if (!part) return NaN;
  let low = 0;
  let high = part.x.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (part.x[middle] <= x) low = middle;
    else high = middle;
  }
  const wide = part.x[high] - part.x[low];
  const share = wide > 0 ? clamp((x - part.x[low]) / wide, 0, 1) : 0;
  return part.y[low] + share * (part.y[high] - part.y[low]);
}

/** The upper edge of a band: the first half of each of its stretches. */
const upper = (band) => stretches(band).map(({ x, y }) => ({ x: x.slice(0, x.length / 2), y: y.slice(0, y.length / 2) }));

class Pointing {
  constructor(svg) {
    this.svg = svg;
    const [left, width, from_s, to_s] = numbers(svg.dataset.x);
    Object.assign(this, { left, width, span: [from_s, to_s] });
    this.curves = [...svg.querySelectorAll(".pourline-curve")].map((path) => {
      const [top, height, low, high] = numbers(path.dataset.y);
      const band = path.previousElementSibling;
      const { name, word, unit } = path.dataset;
      const look = { colour: path.getAttribute("stroke"), dashed: path.hasAttribute("stroke-dasharray") };
      const value = (y) => high - ((y - top) / height) * (high - low);
      const sd = band?.classList.contains("pourline-band") ? upper(band.getAttribute("d")) : null;
      return { name, word, unit, ...look, top, base: top + height, value, line: stretches(path.getAttribute("d")), sd };
    });
    this.base = Math.max(...this.curves.map((curve) => curve.base));
    this.top = Math.min(...this.curves.map((curve) => curve.top));
    this.cursor = drawn("path", { class: "pourline-cursor", stroke: "currentColor", "stroke-width": 1.3, fill: "none" });
    this.dots = this.curves.map(({ colour }) => drawn("circle", { r: 4, fill: colour, class: "pourline-dot", visibility: "hidden" }));
    svg.append(this.cursor, ...this.dots);
    this.pours = new Map();
    for (const rect of svg.querySelectorAll(".pourline-pour")) {
      const number = Number(rect.dataset.pour);
      this.pours.set(number, [...(this.pours.get(number) ?? []), rect]);
    }
  }

  /** Where an instant stands on the page of the figure, and the other way round. */
  x(at_s) {
    return this.left + ((at_s - this.span[0]) / (this.span[1] - this.span[0])) * this.width;
  }

  time(x) {
    return this.span[0] + ((x - this.left) / this.width) * (this.span[1] - this.span[0]);
  }

  /** How many pixels of the screen a unit of the figure takes. */
  scale() {
    return this.svg.getBoundingClientRect().width / this.svg.viewBox.baseVal.width;
  }

  timeAt(event) {
    return this.time((event.clientX - this.svg.getBoundingClientRect().left) / this.scale());
  }

  /** What each curve has at an instant. */
  values(at_s) {
    const x = this.x(at_s);
    return this.curves.map((curve) => {
      const y = heightAt(curve.line, x);
      const above = curve.sd ? heightAt(curve.sd, x) : NaN;
      // A band that the panel clips is wider than its drawn part.
      const cut = above <= curve.top + 0.011;
      return { ...curve, y, at: curve.value(y), sd: (curve.value(above) - curve.value(y)) / 2, cut, banded: curve.sd !== null };
    });
  }

  /** Put the line and a dot on each curve at an instant; return what each has there. */
  move(at_s) {
    const x = this.x(at_s);
    const seen = at_s >= this.span[0] - 1e-6 && at_s <= this.span[1] + 1e-6;
    this.cursor.setAttribute("d", seen ? `M${x.toFixed(2)} ${this.top}V${this.base + 6}` : "");
    const found = this.values(at_s);
    found.forEach(({ y }, k) => {
      const there = seen && Number.isFinite(y);
      this.dots[k].setAttribute("visibility", there ? "visible" : "hidden");
      if (there) this.dots[k].setAttribute("cx", x.toFixed(2));
      if (there) this.dots[k].setAttribute("cy", y.toFixed(2));
    });
    return found;
  }

  leave() {
    this.cursor.setAttribute("d", "");
    for (const dot of this.dots) dot.setAttribute("visibility", "hidden");
  }

  /** Shade the pours where they are now; the one that is chosen is darker. */
  shade(pours, chosen) {
    pours.forEach(([start_s, end_s], k) => {
      for (const rect of this.pours.get(k + 1) ?? []) {
        const [from, to] = [start_s, end_s].map((at_s) => clamp(this.x(at_s), this.left, this.left + this.width));
        rect.setAttribute("x", from.toFixed(2));
        rect.setAttribute("width", Math.max(to - from, 0).toFixed(2));
        rect.setAttribute("opacity", k === chosen ? ".55" : ".3");
      }
    });
  }
}

/** A value with its sd and unit; of a band that is cut off only the least sd is known. */
function valueText({ at, sd, cut, unit, banded }) {
  if (!banded) return `${told(at, 1)} ${unit}`;
  return `${told(at, 2)} ± ${cut ? "≥ " : ""}${told(sd, 2)} ${unit}`;
}

/** Make a figure of a card or page readable by pointer and by keys: the values at the line replace the legend. */
function readable(svg) {
  if (svg.dataset.readable || svg.closest(".pourline-stage")) return;
  svg.dataset.readable = "true";
  const pointing = new Pointing(svg);
  const legend = [...svg.querySelectorAll(".pourline-legend")];
  const rest = legend.map((text) => text.textContent);
  const time = drawn("text", { y: pointing.base + 17, "text-anchor": "middle", "font-weight": 600 });
  const { left, width, top, base, span } = pointing;
  const ticks = [...svg.querySelectorAll(".pourline-time")];
  const slider = drawn("rect", {
    ...{ x: left, y: top, width, height: base - top, fill: "transparent", style: "cursor:crosshair;touch-action:pan-y" },
    ...{ class: "pourline-slider", role: "slider", tabindex: 0, "aria-label": "time", "data-lm-suppress-shortcuts": "true" },
  });
  svg.setAttribute("role", "group");
  svg.append(time, slider);
  const middle = (tick) => Number(tick.getAttribute("x")) - (tick.getAttribute("text-anchor") === "end" ? 22 : 0);
  let at_s = span[0];
  const show = (to_s) => {
    at_s = clamp(to_s, ...span);
    const texts = pointing.move(at_s).map((one) => [one.name, valueText(one), one.word]);
    texts.forEach(([, value, word], k) => {
      if (legend[k]) legend[k].textContent = `${word} ${value.replace(/ \S+$/, "")}`.trim();
    });
    const x = clamp(pointing.x(at_s), left + 28, left + width - 28);
    const when = svg.hasAttribute("data-clock") ? clock(at_s) : `${told(at_s, 2)} s`;
    time.textContent = when;
    time.setAttribute("x", x);
    for (const tick of ticks) tick.setAttribute("visibility", Math.abs(middle(tick) - x) < 54 ? "hidden" : "visible");
    const spoken = [when, ...texts.map(([name, value]) => `${name} ${value}`)].join(", ");
    slider.setAttribute("aria-valuenow", told(at_s, 2));
    slider.setAttribute("aria-valuetext", spoken);
  };
  const leave = () => {
    if (document.activeElement === slider) return;
    pointing.leave();
    time.textContent = "";
    for (const tick of ticks) tick.setAttribute("visibility", "visible");
    legend.forEach((text, k) => (text.textContent = rest[k]));
  };
  slider.setAttribute("aria-valuemin", told(span[0], 2));
  slider.setAttribute("aria-valuemax", told(span[1], 2));
  slider.setAttribute("aria-valuenow", told(at_s, 2));
  slider.addEventListener("pointermove", (event) => show(pointing.timeAt(event)));
  slider.addEventListener("pointerdown", (event) => show(pointing.timeAt(event)));
  slider.addEventListener("pointerleave", leave);
  slider.addEventListener("focus", () => show(at_s));
  slider.addEventListener("blur", leave);
  slider.addEventListener("keydown", (event) => {
    const step = ((span[1] - span[0]) / width) * STEP_PX * (event.shiftKey ? 10 : 1);
    const to_s = { Home: span[0], End: span[1] }[event.key] ?? (ARROWS[event.key] && at_s + ARROWS[event.key] * step);
    if (to_s === undefined || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    show(to_s);
  });
}
