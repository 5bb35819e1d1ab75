// In: the model of a view. Out: its page: the values at the line, the figure from Python with handles, buttons, the
// table of pours.

const STEP_S = 0.05;
const LEAST_S = 0.05;
const NARROWEST_S = 4;
// A run of key presses is one step: it is sent when it rests this long.
const REST_MS = 350;
const PATIENCE_MS = 250;
// Two lanes of handles, so that the start and the end of a short pour do not overlap.
const LANE = 31;
const LANES = 6 + 2 * LANE;
const EDGES = ["start", "end"];
const HELP = [
  ["Tab", "to the line, and from edge to edge"],
  ["← →", "0.05 s; with Shift 0.5 s"],
  ["Page Up, Page Down", "the line: to the next edge, or the one before"],
  ["Home, End", "as far as it goes"],
  ["+ −", "closer, wider"],
  ["Escape", "undoes the moves since the edge was chosen"],
  ["Delete", "removes the pour of the edge"],
];

class Page {
  constructor(model, el) {
    this.model = model;
    this.log = model.get("_log");
    this.window = [...this.log.span_s];
    this.drafts = new Map();
    this.handles = [];
    this.chosen = null;
    this.build(el);
    this.line_s = this.first();
    this.hear();
    this.changed = () => this.hear();
    model.on("change:_now", this.changed);
    this.watch = new ResizeObserver(() => this.resized());
    this.watch.observe(this.stage);
  }

  close() {
    this.model.off("change:_now", this.changed);
    this.watch.disconnect();
    for (const timer of [this.resting, this.patience, this.looking]) clearTimeout(timer);
  }

  /** Make what stays for as long as the page is shown. */
  build(el) {
    this.told = made("div", { className: "told" });
    this.line = made("div", { className: "line", role: "slider", tabindex: 0, "aria-label": "time", ...KEYS_ARE_MINE });
    this.figure = made("div", { className: "drawing", style: `margin-top:${LANES}px` });
    this.lanes = EDGES.map((edge, lane) => made("span", { className: "lane", style: `top:${6 + lane * LANE}px;height:${LANE}px` }, edge));
    this.stage = made("div", { className: "stage" }, this.figure, ...this.lanes, this.line);
    this.add = button("add a pour at the line", () => this.ask({ do: "add", at_s: this.line_s }));
    this.undo = button("undo", () => this.ask({ do: "undo", steps: 1 }));
    this.reset = button("reset to found", () => this.ask({ do: "reset" }));
    this.closer = button("closer", () => this.zoom(0.5));
    this.wider = button("wider", () => this.zoom(2));
    this.said = made("p", { className: "said", role: "status" });
    this.table = made("table");
    this.warnings = made("ul");
    const keys = HELP.map(([key, act]) => made("div", {}, made("dt", {}, key), made("dd", {}, act)));
    const { pour, focus } = this.log.colours;
    const colours = `--pourline-pour:${pour};--pourline-focus:${focus}`;
    this.root = made(
      "div",
      { className: "view", style: colours },
      made("div", { className: "head" }, made("strong", {}, this.log.name), made("span", { title: this.log.known }, this.log.known)),
      ...[this.told, this.stage],
      made(
        "div",
        { className: "tools" },
        made("div", { role: "group", "aria-label": "pours" }, this.add, this.undo, this.reset),
        made("div", { role: "group", "aria-label": "time shown" }, this.closer, this.wider),
      ),
      this.said,
      made("div", { className: "wide" }, this.table),
      this.warnings,
      made("details", {}, made("summary", KEYS_ARE_MINE, "keys"), made("dl", {}, ...keys)),
    );
    el.append(this.root);
    this.line.addEventListener("keydown", (event) => this.lineKey(event));
    this.stage.addEventListener("pointerdown", (event) => this.pointLine(event));
  }

  // Messages from and to Python.

  hear() {
    const now = this.model.get("_now");
    if (!this.now || this.now.svg !== now.svg) {
      const svg = parsed(now.svg);
      this.figure.replaceChildren(svg);
      this.pointing = new Pointing(svg);
    }
    this.now = now;
    this.items = [{ name: "time" }, { name: "where" }, ...this.pointing.curves].map(item);
    this.told.replaceChildren(...this.items.map(({ node }) => node));
    for (const [key, draft] of this.drafts) if (draft.ask && draft.ask === now.answer) this.drafts.delete(key);
    const mine = this.waiting !== undefined && now.answer === this.waiting;
    if (mine) {
      clearTimeout(this.patience);
      this.waiting = undefined;
      this.unsettled = false;
      this.root.classList.remove("pourline-busy");
    }
    this.say(now.said ?? "Drag an edge or the line, or press Tab and the arrow keys.");
    this.grips();
    this.tell();
    this.draw();
    if (mine && now.added) this.handles[2 * (now.added - 1)].focus();
  }

  ask(message) {
    if (message.do !== "move") {
      // The pours may be renumbered, so no edge moves until the answer arrives.
      this.unsettled = true;
      this.drafts.clear();
      clearTimeout(this.resting);
    }
    const ask = `${Math.random()}`;
    this.waiting = ask;
    clearTimeout(this.patience);
    this.patience = setTimeout(() => {
      this.root.classList.add("pourline-busy");
      this.say("recomputing …");
    }, PATIENCE_MS);
    this.model.send({ ...message, ask });
    return ask;
  }

  say(text) {
    if (this.said.textContent !== text) this.said.textContent = text;
  }

  // The line.

  /** Where the line stands at first: in the middle of the first pour. */
  first() {
    const [pour] = this.model.get("_now").pours;
    return pour ? (pour[0] + pour[1]) / 2 : this.log.span_s[0];
  }

  moveLine(at_s) {
    this.line_s = clamp(at_s, ...this.log.span_s);
    if (this.line_s < this.window[0] || this.line_s > this.window[1]) this.show(this.window[1] - this.window[0]);
    else this.read();
  }

  lineKey(event) {
    const edges = this.pours().flat();
    const to = {
      ...{ Home: this.log.span_s[0], End: this.log.span_s[1] },
      PageUp: edges.find((edge) => edge > this.line_s + 1e-6) ?? this.log.span_s[1],
      PageDown: edges.findLast((edge) => edge < this.line_s - 1e-6) ?? this.log.span_s[0],
    };
    const at_s = to[event.key] ?? this.stepped(event, this.line_s);
    if (at_s === undefined && !this.zoomKey(event)) return;
    taken(event);
    if (at_s !== undefined) this.moveLine(at_s);
  }

  pointLine(event) {
    if (event.button || event.target.closest(".pourline-edge")) return;
    event.preventDefault();
    this.line.focus({ preventScroll: true });
    const move = (moved) => this.moveLine(clamp(this.pointing.timeAt(moved), ...this.pointing.span));
    followed(this.stage, event, move);
    move(event);
  }

  /** Where an arrow key leads from an instant. */
  stepped(event, at_s) {
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!way || event.altKey || event.ctrlKey || event.metaKey) return undefined;
    return Number((at_s + way * (event.shiftKey ? 10 : 1) * STEP_S).toFixed(6));
  }

  zoomKey(event) {
    const factor = { "+": 0.5, "=": 0.5, "-": 2, "−": 2 }[event.key];
    if (!factor || event.ctrlKey || event.metaKey) return false;
    this.zoom(factor);
    return true;
  }

  zoom(factor) {
    this.show((this.window[1] - this.window[0]) * factor);
  }

  /** Show so many seconds around the line. */
  show(width_s) {
    const [low, high] = this.log.span_s;
    const whole = high - low;
    // Halves and doubles may miss the whole by a rounding.
    const width = width_s > whole - 1e-6 ? whole : Math.max(width_s, Math.min(NARROWEST_S, whole));
    const from = clamp(this.line_s - width / 2, low, high - width);
    this.window = [from, from + width];
    this.draw();
    this.look();
  }

  /** Ask for the figure of the time that shall be shown, on the width that there is. */
  look() {
    clearTimeout(this.looking);
    this.width = this.stage.clientWidth;
    this.model.send({ do: "look", span_s: this.window, width: this.width });
  }

  /** Until it comes the figure is shown larger or smaller. */
  resized() {
    if (!this.stage.clientWidth) return;
    this.place();
    clearTimeout(this.looking);
    if (this.stage.clientWidth !== this.width) this.looking = setTimeout(() => this.look(), this.width ? REST_MS / 2 : 0);
  }

  // The edges.

  /** The pours as the page shows them: those of Python, with what is being moved. */
  pours() {
    const pours = this.now.pours.map((pour) => [...pour]);
    for (const { pour, edge, at_s } of this.drafts.values()) if (pours[pour]) pours[pour][edge] = at_s;
    return pours;
  }

  limits(pour, edge) {
    const pours = this.pours();
    const [start_s, end_s] = pours[pour];
    return edge
      ? [start_s + LEAST_S, pours[pour + 1]?.[0] ?? this.log.span_s[1]]
      : [pours[pour - 1]?.[1] ?? this.log.brew_start_s, end_s - LEAST_S];
  }

  moveEdge(pour, edge, at_s) {
    if (this.unsettled) return;
    const [low, high] = this.limits(pour, edge);
    const to = clamp(at_s, Math.min(low, high), high);
    this.drafts.set(`${pour} ${edge}`, { pour, edge, at_s: to });
    this.line_s = to;
    if (to < this.window[0] || to > this.window[1]) this.show(this.window[1] - this.window[0]);
    else this.place();
  }

  /** Send what was moved and is not sent yet. */
  commit() {
    clearTimeout(this.resting);
    for (const draft of this.drafts.values()) {
      if (draft.ask) continue;
      draft.ask = this.ask({ do: "move", pour: draft.pour + 1, [`${EDGES[draft.edge]}_s`]: draft.at_s });
      this.steps += 1;
    }
  }

  takeBack() {
    const unsent = [...this.drafts].filter(([, draft]) => !draft.ask);
    for (const [key] of unsent) this.drafts.delete(key);
    clearTimeout(this.resting);
    if (this.steps) this.ask({ do: "undo", steps: this.steps });
    this.steps = 0;
    if (this.chosen) this.line_s = this.pours()[this.chosen[0]][this.chosen[1]];
    this.place();
  }

  edgeKey(event, pour, edge) {
    const [low, high] = this.limits(pour, edge);
    const at_s = { Home: low, End: high }[event.key] ?? this.stepped(event, this.pours()[pour][edge]);
    if (at_s !== undefined) {
      this.moveEdge(pour, edge, at_s);
      clearTimeout(this.resting);
      this.resting = setTimeout(() => this.commit(), REST_MS);
    } else if (event.key === "Enter") this.commit();
    else if (event.key === "Escape") this.takeBack();
    else if (event.key === "Delete" || event.key === "Backspace") this.remove(pour);
    else if (!this.zoomKey(event)) return;
    taken(event);
  }

  pointEdge(event, pour, edge, handle) {
    if (event.button) return;
    event.preventDefault();
    handle.focus({ preventScroll: true });
    const off = this.pours()[pour][edge] - this.pointing.timeAt(event);
    let moved = false;
    const move = (at) => {
      // Until it has moved a little it is a click.
      moved ||= Math.abs(at.clientX - event.clientX) > 2;
      if (moved) this.moveEdge(pour, edge, Number((this.pointing.timeAt(at) + off).toFixed(2)));
    };
    followed(handle, event, move, (kept) => (kept ? this.commit() : moved && this.takeBack()));
  }

  remove(pour) {
    if (this.unsettled) return;
    this.ask({ do: "remove", pour: pour + 1 });
    this.line.focus({ preventScroll: true });
  }

  /** As many handles as there are edges; those that are there stay, so that none loses the focus. */
  grips() {
    const count = this.now.pours.length * 2;
    while (this.handles.length > count) this.handles.pop().remove();
    while (this.handles.length < count) {
      const [pour, edge] = [this.handles.length >> 1, this.handles.length & 1];
      const look = { className: `edge ${EDGES[edge]}`, style: `top:${6 + edge * LANE}px`, role: "slider", tabindex: 0, ...KEYS_ARE_MINE };
      const handle = made("div", { ...look, "aria-label": `${EDGES[edge]} of pour ${pour + 1}` }, `${pour + 1}`);
      handle.append(made("i"));
      handle.addEventListener("keydown", (event) => this.edgeKey(event, pour, edge));
      handle.addEventListener("pointerdown", (event) => this.pointEdge(event, pour, edge, handle));
      handle.addEventListener("focus", () => {
        [this.chosen, this.steps] = [[pour, edge], 0];
        this.moveLine(this.pours()[pour][edge]);
        this.place();
      });
      handle.addEventListener("blur", () => {
        this.commit();
        this.chosen = null;
        this.place();
      });
      this.handles.push(handle);
      this.stage.append(handle);
    }
  }

  // Display.

  draw() {
    const whole = this.log.span_s[1] - this.log.span_s[0];
    this.wider.disabled = this.window[1] - this.window[0] >= whole;
    this.closer.disabled = this.window[1] - this.window[0] <= Math.min(NARROWEST_S, whole);
    this.place();
  }

  /** Put handles, shades and the line where they are. */
  place() {
    const pours = this.pours();
    const [scale, [from_s, to_s]] = [this.pointing.scale(), this.pointing.span];
    for (const lane of this.lanes) lane.style.width = `${this.pointing.left * scale - 7}px`;
    const chosen = this.chosen?.[0];
    this.handles.forEach((handle, k) => {
      const [pour, edge] = [k >> 1, k & 1];
      const at_s = pours[pour][edge];
      const [low, high] = this.limits(pour, edge);
      handle.style.left = `${this.pointing.x(at_s) * scale}px`;
      handle.lastChild.style.height = `${LANES + this.pointing.base * scale - 6 - edge * LANE}px`;
      handle.hidden = at_s < from_s || at_s > to_s;
      const hand = [EDGES[edge], "both"].includes(this.now.by_hand[pour]) || this.drafts.has(`${pour} ${edge}`);
      handle.classList.toggle("pourline-hand", hand);
      valued(handle, low, high, at_s, `${told(at_s, 2)} s${hand ? ", by hand" : ""}`);
    });
    this.table.querySelectorAll("tbody tr").forEach((row, k) => row.classList.toggle("pourline-chosen", k === chosen));
    this.pointing.shade(pours, chosen);
    this.read();
  }

  /** Put the line where it is, and tell what stands there. */
  read() {
    const phase = phaseAt(this.line_s, this.pours(), this.log.brew_start_s, this.now.drawdown_end_s);
    const values = this.pointing.move(this.line_s).map(valueText);
    const texts = [`${told(this.line_s, 2)} s`, phase, ...values];
    this.items.forEach(({ number }, k) => (number.textContent = texts[k]));
    const spoken = this.items.map(({ name }, k) => (name === "where" ? texts[k] : `${name} ${texts[k]}`)).join(", ");
    this.line.textContent = `${told(this.line_s, 2)} s`;
    this.line.style.left = `${this.pointing.x(clamp(this.line_s, ...this.pointing.span)) * this.pointing.scale()}px`;
    valued(this.line, ...this.log.span_s, this.line_s, spoken);
  }

  /** Fill the table, and what the buttons allow. */
  tell() {
    const { rows, heads, by_hand, steps, as_found, warnings } = this.now;
    this.undo.disabled = !steps;
    this.reset.disabled = as_found;
    const head = ["pour", "by hand", ...heads];
    const body = rows.map((cells, k) => {
      const remove = button("remove", () => this.remove(k));
      remove.setAttribute("aria-label", `remove pour ${k + 1}`);
      const hand = made("td", { className: by_hand[k] === "none" ? "" : "hand" }, by_hand[k] === "none" ? "–" : by_hand[k]);
      const number = made("th", { scope: "row" }, `${k + 1}`);
      return made("tr", {}, number, hand, ...cells.map((text) => made("td", {}, text)), made("td", {}, remove));
    });
    this.warnings.replaceChildren(...warnings.map((text) => made("li", {}, text)));
    this.table.replaceChildren(
      made("caption", {}, "Pours, each number ± one sd"),
      made("thead", {}, made("tr", {}, ...head.map((text) => made("th", { scope: "col" }, text)), made("td"))),
      made("tbody", {}, ...body),
    );
  }
}

export default {
  render({ model, el }) {
    const page = new Page(model, el);
    return () => page.close();
  },
};
