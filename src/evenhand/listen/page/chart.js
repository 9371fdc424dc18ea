/* The main chart: time in bars against deviation in ms. uPlot keeps scales and axes. */
import { axis } from "../web/axes.js";
import { soon } from "../web/dom.js";
import { uPlot } from "../web/plot.js";
import { between, height as heightMs, marks, start as startMarks } from "./marks.js";
import { lowest, now, onChange } from "./model.js";
import { behind, front } from "./painting.js";
import { barStarts, beatAt } from "./time.js";
import { signed, story } from "./words.js";

const NEAR_PX = 14;
const SHORTEST_MS = 400;

const rings = { hovered: null, chosen: null };
const state = { carried: true, chosen: -1, hovered: -1, side: "after", held: [], nudged: [], flags: [] };
const view = { plot: null, head: null, tip: null, most: 25, place: null };

/* Where the music ends on the chart. */
const end = () => now.all.music_ms * 1.005 + 100;

/* Bar lines at a distance that leaves room for their numbers. */
function barSplits(self, number, min, max) {
  const bars = barStarts();
  const [from, to] = [
    lowest(bars.length, (index) => bars[index][0], min),
    lowest(bars.length, (index) => bars[index][0], max + 1e-6),
  ];
  const room = Math.max(1, self.bbox.width / uPlot.pxRatio / 44);
  let step = 1;
  while ((to - from) / step > room) step *= 2;
  return bars
    .slice(from, to)
    .filter(([, bar]) => (bar - 1) % step === 0)
    .map(([ms]) => ms);
}

const barName = (ms) => `${now.all.beats.bar[beatAt(ms + 0.5)]}`;

const height = () => (window.innerWidth < 600 ? 280 : 400);

/* Axes that all charts of the page share. */
const barAxis = () =>
  axis({ splits: barSplits, values: (self, splits) => splits.map(barName), size: 32 });

const msAxis = () =>
  axis({
    size: 50,
    values: (self, splits) => splits.map((ms) => (ms ? signed(ms, 0) : "0")),
  });

function overlay(name) {
  const node = document.createElement("div");
  node.className = name;
  node.hidden = true;
  view.plot.over.append(node);
  return node;
}

/* `scaled` is called when another stretch is shown. */
function make(place, scaled) {
  view.place = place;
  startMarks();
  view.most = heightMs();
  const nothing = { paths: () => null, points: { show: false } };
  view.plot = new uPlot(
    {
      width: place.clientWidth,
      height: height(),
      padding: [8, 12, 0, 0],
      legend: { show: false },
      // Late is above the middle: the later, the higher.
      scales: { x: { time: false, min: 0, max: end() }, y: { range: () => [-view.most, view.most] } },
      axes: [barAxis(), msAxis()],
      series: [{}, { label: "before", ...nothing }, { label: "after", ...nothing }],
      cursor: { drag: { x: false, y: false }, points: { show: false }, x: false, y: false },
      hooks: {
        drawClear: [(self) => behind(self, state.held)],
        draw: [(self) => front(self, state), ring],
        setScale: [() => scaled()],
      },
    },
    [marks.when, marks.early, marks.late],
    place,
  );
  show(0, end());
  view.head = overlay("head");
  rings.hovered = overlay("ring");
  rings.chosen = overlay("ring");
  view.tip = overlay("tip");
  new ResizeObserver(() =>
    view.plot.setSize({ width: place.clientWidth, height: height() }),
  ).observe(place);
  onChange((names) => {
    if (!["hits", "band", "sections", "fills", "pushes"].some((name) => names.has(name))) return;
    view.most = heightMs();
    const { min, max } = view.plot.scales.x;
    view.plot.setData([marks.when, marks.early, marks.late], false);
    view.plot.setScale("x", { min, max });
    ring();
  });
}

/* Rings around the mark pointed at and the mark chosen: above the canvas, which needn't be drawn
   anew for them. */
function ring() {
  for (const [name, node] of Object.entries(rings)) {
    const index = state[name];
    if (!node) continue;
    node.hidden = index < 0;
    if (index < 0) continue;
    const [left, top] = spotOf(index);
    node.hidden = left < 0 || left > wide();
    node.style.transform = `translate(${left - 9}px, ${top - 9}px)`;
  }
}

/* Where the mark of the side that is heard stands, CSS pixels. */
function spotOf(index) {
  const deviation = (state.side === "before" ? marks.early : marks.late)[index];
  return spot(marks.when[index], deviation);
}

/* Show a stretch, kept inside the take. */
function show(from, to) {
  const whole = end();
  const length = Math.min(whole, Math.max(SHORTEST_MS, to - from));
  const middle = (from + to) / 2;
  const begin = Math.max(0, Math.min(whole - length, middle - length / 2));
  view.plot.setScale("x", { min: begin, max: begin + length });
}

/* Closer or wider about a time; the middle if none is given. */
function zoom(factor, about) {
  const { min, max } = view.plot.scales.x;
  const at = about ?? (min + max) / 2;
  show(at - (at - min) * factor, at + (max - at) * factor);
}

function shift(share) {
  const { min, max } = view.plot.scales.x;
  show(min + (max - min) * share, max + (max - min) * share);
}

const whole = () => show(0, end());

/* The mark nearest to a place in the chart (CSS pixels), -1 if none is near. */
function nearest(left, top) {
  const { plot } = view;
  const reach = plot.posToVal(NEAR_PX, "x") - plot.posToVal(0, "x");
  const at = plot.posToVal(left, "x");
  let best = -1;
  let least = NEAR_PX ** 2;
  const [from, to] = between(at - reach, at + reach);
  for (let index = from; index < to; index += 1) {
    if (marks.carried[index] && !state.carried) continue;
    const dx = plot.valToPos(marks.when[index], "x") - left;
    for (const y of [marks.early[index], marks.late[index]]) {
      const distance = dx ** 2 + (plot.valToPos(y, "y") - top) ** 2;
      if (distance < least) [best, least] = [index, distance];
    }
  }
  return best;
}

/* Point at a mark: its ring and its story. */
function hover(index, left, top) {
  if (index !== state.hovered) {
    state.hovered = index;
    ring();
    if (index >= 0) view.tip.textContent = story(marks.order[index]);
  }
  view.tip.hidden = index < 0;
  if (index < 0) return;
  const { clientWidth, clientHeight } = view.plot.over;
  view.tip.style.left = `${Math.max(0, Math.min(left + 12, clientWidth - 262))}px`;
  view.tip.style.top = `${top > clientHeight / 2 ? top - 110 : top + 16}px`;
}

/* Choose a mark and bring it into view. */
function choose(index) {
  state.chosen = index;
  const { min, max } = view.plot.scales.x;
  const at = marks.when[index];
  if (at < min || at > max) show(at - (max - min) / 2, at + (max - min) / 2);
  ring();
}

/* The next or previous mark that is shown, counted from the chosen one; -1 if there is none. */
function neighbour(steps) {
  const way = Math.sign(steps);
  const count = marks.when.length;
  let index = state.chosen < 0 && way > 0 ? -1 : state.chosen;
  if (Math.abs(steps) > 1) index = way > 0 ? count : -1;
  const step = Math.abs(steps) > 1 ? -way : way;
  do index += step;
  while (index >= 0 && index < count && marks.carried[index] && !state.carried);
  return index >= 0 && index < count ? index : -1;
}

const hitOf = (index) => marks.order[index];

const indexOf = (hit) => marks.order.indexOf(hit);

/* The playhead; with `follow` the view turns over when it leaves. */
function playhead(ms, follow) {
  const { min, max } = view.plot.scales.x;
  if (follow && (ms > max || ms < min) && max - min < end()) {
    show(ms - (max - min) * 0.08, ms + (max - min) * 0.92);
  }
  const left = view.plot.valToPos(ms, "x");
  const away = left < 0 || left > wide();
  if (view.head.hidden !== away) view.head.hidden = away;
  if (!away) view.head.style.transform = `translateX(${left}px)`;
}

/* The width of the drawn part, CSS pixels; asking the element would lay out the page. */
const wide = () => view.plot.bbox.width / uPlot.pxRatio;

const redraw = soon(() => view.plot.redraw(false));

function set(settings) {
  Object.assign(state, settings);
  redraw();
}

/* The marks as the chart has them: number of the hit, when, before, after. */
const points = () =>
  marks.order.map((hit, index) => [hit, ...view.plot.data.map((column) => column[index])]);

const spot = (ms, deviation) => [view.plot.valToPos(ms, "x"), view.plot.valToPos(deviation, "y")];

const limits = () => [view.plot.scales.x.min, view.plot.scales.x.max];

const over = () => view.plot.over;

/* What a movement of so many pixels is worth: ms of the take, ms of deviation. */
const worth = (dx, dy) => [
  view.plot.posToVal(dx, "x") - view.plot.posToVal(0, "x"),
  view.plot.posToVal(dy, "y") - view.plot.posToVal(0, "y"),
];

const timeAt = (left) => view.plot.posToVal(left, "x");

export {
  barAxis,
  choose,
  hitOf,
  hover,
  indexOf,
  limits,
  make,
  msAxis,
  nearest,
  neighbour,
  over,
  playhead,
  points,
  redraw,
  rings,
  set,
  shift,
  show,
  spot,
  spotOf,
  state,
  timeAt,
  whole,
  worth,
  zoom,
};
