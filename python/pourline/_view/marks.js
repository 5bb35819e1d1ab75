// In: numbers as the view is sent them. Out: scales, round ticks, paths, interpolated values and words. Nothing here touches a page.

const told = (value, digits) => (Number.isFinite(value) ? value.toFixed(digits) : "–");
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

/** Where a value of `span` stands between `from` and `to`. */
const scale = (span, from, to) => (value) => from + ((value - span[0]) / (span[1] - span[0])) * (to - from);

/** About so many round values within a span. */
function ticks([low, high], count) {
  const rough = (high - low) / Math.max(count, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((one) => one * power >= rough * 0.999);
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) found.push(k * step);
  // No tick needs more digits than its step.
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return found.map((value) => ({ value, text: value.toFixed(digits) }));
}

/** A line with its bytes as numbers. They are copied: where they come from they need not be aligned. */
function unpacked(line) {
  const read = (bytes) =>
    bytes && new Float64Array(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
  return { ...line, time_s: read(line.time_s), value: read(line.value), sd: read(line.sd) };
}

/** The place of the last stamp that is not after an instant; -1 where there is none. */
function placeOf(time_s, at_s) {
  let low = 0;
  let high = time_s.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time_s[middle] <= at_s) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** What a line has at an instant, between its points in a straight line; NaN where it has nothing. */
function valueAt(line, at_s) {
  const { time_s, value, sd } = line;
  const k = placeOf(time_s, at_s);
  if (k < 0 || at_s > time_s[time_s.length - 1]) return { value: NaN, sd: NaN };
  const next = Math.min(k + 1, time_s.length - 1);
  const share = next > k && time_s[next] > time_s[k] ? (at_s - time_s[k]) / (time_s[next] - time_s[k]) : 0;
  const between = (y) => (y ? (share ? y[k] + share * (y[next] - y[k]) : y[k]) : NaN);
  return { value: between(value), sd: between(sd) };
}

/** The stretches of a line without a gap in `y`, as far as they reach into a span: pairs of first place and the one after the last. */
function stretches(line, span, y) {
  const first = Math.max(0, placeOf(line.time_s, span[0]) - 1);
  const last = Math.min(line.time_s.length, placeOf(line.time_s, span[1]) + 3);
  const found = [];
  let from = first;
  for (let k = first; k <= last; k++) {
    if (k < last && Number.isFinite(y[k])) continue;
    if (k > from) found.push([from, k]);
    from = k + 1;
  }
  return found;
}

const point = (x, y) => `${x.toFixed(1)} ${y.toFixed(1)}`;

function linePath(line, span, x, y) {
  const parts = stretches(line, span, line.value).map(([from, to]) => {
    const points = [];
    for (let k = from; k < to; k++) points.push(point(x(line.time_s[k]), y(line.value[k])));
    return `M${points.join("L")}`;
  });
  return parts.join("");
}

/** The band of two sd around a line. */
function bandPath(line, span, x, y) {
  const parts = stretches(line, span, line.sd).map(([from, to]) => {
    const above = [];
    const below = [];
    for (let k = from; k < to; k++) {
      above.push(point(x(line.time_s[k]), y(line.value[k] + 2 * line.sd[k])));
      below.push(point(x(line.time_s[k]), y(line.value[k] - 2 * line.sd[k])));
    }
    return `M${above.concat(below.reverse()).join("L")}Z`;
  });
  return parts.join("");
}

/** The highest value that lines reach, the bands left out: one wild sd must not flatten all. */
function highest(lines) {
  let found = 0;
  for (const line of lines) for (const value of line.value) if (value > found) found = value;
  return found;
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
