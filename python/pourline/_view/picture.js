// In: lines, pours and a span of time. Out: the picture: two panels over one axis of time, pours shaded, a line to read at.

const LEFT = 46;
const RIGHT = 12;
// Two lanes of handles, so that the start and the end of a short pour do not lie on each other.
const LANE = 31;
const LANES = 6 + 2 * LANE;
const PANELS = { weight: { top: LANES + 20, height: 190 }, flow: { top: LANES + 236, height: 130 } };
const FLOOR = PANELS.flow.top + PANELS.flow.height;
const HEIGHT = FLOOR + 36;
// A closer look at a rest does not blow up its noise.
const LEAST_G = 20;
const SVG = "http://www.w3.org/2000/svg";

let pictures = 0;

function drawn(tag, attributes = {}, ...inside) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...inside);
  return node;
}

/** The picture of one view. `draw` makes lines and ticks anew; `shade` and `read` move what a hand moves. */
class Picture {
  constructor(log) {
    this.log = log;
    this.clip = `pourline-clip-${++pictures}`;
    this.grid = drawn("g");
    this.shades = drawn("g", { "clip-path": `url(#${this.clip})` });
    this.lines = drawn("g", { "clip-path": `url(#${this.clip})`, fill: "none", "stroke-linejoin": "round" });
    this.cursor = drawn("path", { class: "pourline-cursor" });
    this.dots = drawn("g");
    this.frame = drawn("rect", { x: LEFT, y: LANES, height: FLOOR - LANES });
    this.node = drawn(
      "svg",
      { height: HEIGHT, role: "img" },
      drawn("clipPath", { id: this.clip }, this.frame),
      ...[this.grid, this.shades, this.lines, this.cursor, this.dots],
    );
  }

  /** Lay it out on a width for a span of time. */
  draw(width, span, weights, flows) {
    this.span = span;
    const right = Math.max(width - RIGHT, LEFT + 60);
    this.node.setAttribute("width", width);
    this.frame.setAttribute("width", right - LEFT);
    this.x = scale(span, LEFT, right);
    this.time = (x) => span[0] + ((x - LEFT) / (right - LEFT)) * (span[1] - span[0]);
    const top = Math.max(1, 1.12 * highest(flows));
    this.panels = [
      this.panel(PANELS.weight, "weight, g", this.masses(weights), weights),
      this.panel(PANELS.flow, flows.length ? "flow, g/s (band: ±2 sd)" : "no flow is known", [0, top], flows),
    ];
    this.grid.replaceChildren(...this.panels.flatMap((one) => this.scales(one, right)), ...this.times(right));
    const dots = [...weights, ...flows].map(({ colour }) => drawn("circle", { r: 4.5, fill: colour, class: "pourline-dot" }));
    this.dots.replaceChildren(...dots);
    this.lines.replaceChildren(...this.unused(this.panels[0]), ...this.panels.flatMap((one) => this.curves(one)));
  }

  /** The range of the weights: of all, or of what a closer look shows. */
  masses(weights) {
    const { span_s, span_g } = this.log;
    if (this.span[1] - this.span[0] >= span_s[1] - span_s[0]) return span_g;
    const seen = weights.flatMap((line) => [...line.value].filter((value, k) => {
      return Number.isFinite(value) && line.time_s[k] >= this.span[0] && line.time_s[k] <= this.span[1];
    }));
    if (!seen.length) return span_g;
    const [low, high] = [Math.min(...seen), Math.max(...seen)];
    const room = Math.max(0.08 * (high - low), (LEAST_G - (high - low)) / 2, 1);
    return [low - room, high + room];
  }

  panel({ top, height }, title, values, lines) {
    return { top, height, title, values, lines, y: scale(values, top + height, top) };
  }

  scales({ top, height, title, values, y }, right) {
    const marks = ticks(values, height / 36).map(({ value, text }) => [
      drawn("path", { d: `M${LEFT} ${y(value)}H${right}`, class: "pourline-grid" }),
      drawn("text", { x: LEFT - 7, y: y(value) + 4, "text-anchor": "end" }, text),
    ]);
    return [drawn("text", { x: LEFT, y: top - 6, class: "pourline-title" }, title), ...marks.flat()];
  }

  times(right) {
    const title = drawn("text", { x: right, y: FLOOR + 19, "text-anchor": "end", class: "pourline-title" }, "time, s");
    const marks = ticks(this.span, Math.min((right - LEFT) / 46, 16)).map(({ value, text }) => {
      const at = this.x(value);
      const label = drawn("text", { x: at, y: FLOOR + 19, "text-anchor": "middle" }, at < right - 56 ? text : "");
      return [drawn("path", { d: `M${at} ${FLOOR}v5`, class: "pourline-axis" }), label];
    });
    return [drawn("path", { d: `M${LEFT} ${FLOOR}H${right}`, class: "pourline-axis" }), ...marks.flat(), title];
  }

  curves({ lines, y }) {
    return lines.flatMap((line) => {
      const look = { stroke: line.colour, "stroke-width": 1.7, "stroke-dasharray": line.dashed ? "6 3" : "none" };
      const parts = [drawn("path", { d: linePath(line, this.span, this.x, y), ...look })];
      if (line.sd) parts.unshift(drawn("path", { d: bandPath(line, this.span, this.x, y), fill: line.colour, opacity: 0.24 }));
      return parts;
    });
  }

  /** Samples that were not used, as faint dots. */
  unused({ values, y }) {
    return this.log.unused.map(({ colour, time_s, value }) => {
      const dots = [];
      for (let k = 0; k < time_s.length; k++) {
        const inside = time_s[k] >= this.span[0] && time_s[k] <= this.span[1] && value[k] >= values[0] && value[k] <= values[1];
        if (inside) dots.push(`M${point(this.x(time_s[k]), y(value[k]))}h0`);
      }
      return drawn("path", { d: dots.join(""), stroke: colour, opacity: 0.4, "stroke-width": 2.6, "stroke-linecap": "round" });
    });
  }

  /** Shade the pours; the one that has the focus is darker. */
  shade(pours, chosen) {
    const rects = pours.map(([start_s, end_s], k) => {
      const width = Math.max(this.x(end_s) - this.x(start_s), 0.5);
      const look = { fill: this.log.colours.pour, opacity: k === chosen ? 0.55 : 0.3 };
      return drawn("rect", { x: this.x(start_s), y: LANES, width, height: FLOOR - LANES, ...look });
    });
    this.shades.replaceChildren(...rects);
  }

  /** Put the line at an instant, with a dot on each curve; return what each has there. */
  read(at_s) {
    const x = this.x(at_s);
    this.cursor.setAttribute("d", `M${x} ${PANELS.weight.top - 4}V${FLOOR + 6}`);
    const found = this.panels.flatMap(({ lines, y }) => lines.map((line) => ({ line, y, ...valueAt(line, at_s) })));
    found.forEach(({ y, value }, k) => {
      const dot = this.dots.children[k];
      dot.setAttribute("visibility", Number.isFinite(value) ? "visible" : "hidden");
      dot.setAttribute("cx", x);
      if (Number.isFinite(value)) dot.setAttribute("cy", y(value));
    });
    return found;
  }
}
