/* The main chart: time in bars against deviation in ms. uPlot keeps scales, axes and zoom. */
import * as Data from "./data.js";
import * as Marks from "./marks.js";
import { axis } from "../web/axes.js";
import { uPlot } from "../web/plot.js";

const NEAR_PX = 14;
const SHORTEST_MS = 400;
const { carried, early, end, late, order, when } = Marks;
const rings = { hovered: null, chosen: null };
const state = { carried: true, chosen: -1, hovered: -1, side: "after" };
let plot = null;
let head = null;
let tip = null;
let calls = {};

/* Bar lines at a distance that leaves room for their numbers. */
function barSplits(self, number, min, max) {
  const bars = Data.barStarts();
  const [from, to] = [
    Data.lowest(bars.length, (index) => bars[index][0], min),
    Data.lowest(bars.length, (index) => bars[index][0], max + 1e-6),
  ];
  const room = Math.max(1, self.bbox.width / uPlot.pxRatio / 44);
  let step = 1;
  while ((to - from) / step > room) step *= 2;
  return bars
    .slice(from, to)
    .filter(([, bar]) => (bar - 1) % step === 0)
    .map(([ms]) => ms);
}

const barName = (ms) => `${Data.all.beats.bar[Data.beatAt(ms + 0.5)]}`;

const height = () => (window.innerWidth < 600 ? 300 : 380);

/* Axes that all charts of the page share. */
const barAxis = () =>
  axis({ splits: barSplits, values: (self, splits) => splits.map(barName), size: 32 });

const msAxis = () =>
  axis({
    size: 50,
    values: (self, splits) => splits.map((ms) => (ms ? Data.signed(ms, 0) : "0")),
  });

function make(place, wanted) {
  calls = wanted;
  const most = Marks.highest();
  const nothing = { paths: () => null, points: { show: false } };
  plot = new uPlot(
    {
      width: place.clientWidth,
      height: height(),
      padding: [8, 12, 0, 0],
      legend: { show: false },
      // Late is above the middle: the later, the higher.
      scales: { x: { time: false, min: 0, max: end }, y: { range: [-most, most] } },
      axes: [barAxis(), msAxis()],
      series: [{}, { label: "before", ...nothing }, { label: "after", ...nothing }],
      cursor: { drag: { x: true, y: false, dist: 5 }, points: { show: false }, y: false },
      hooks: {
        drawClear: [Marks.behind],
        draw: [(self) => Marks.front(self, state), ring],
        setScale: [() => calls.scaled()],
        setSelect: [(self) => self.select.width > 0 && zoomToSelect(self)],
      },
    },
    [when, early, late],
    place,
  );
  plot.setScale("x", { min: 0, max: end });
  const overlay = (name) => {
    const node = document.createElement("div");
    node.className = name;
    node.hidden = true;
    plot.over.append(node);
    return node;
  };
  head = overlay("head");
  rings.hovered = overlay("ring");
  rings.chosen = overlay("ring");
  tip = overlay("tip");
  listen(place);
}

/* Rings around the mark pointed at and the mark chosen: above the canvas, which needn't be
   drawn anew for them. */
function ring() {
  for (const [name, node] of Object.entries(rings)) {
    const index = state[name];
    if (!node) continue;
    node.hidden = index < 0;
    if (index < 0) continue;
    const left = plot.valToPos(when[index], "x");
    const top = plot.valToPos((state.side === "after" ? late : early)[index], "y");
    node.hidden = left < 0 || left > plot.over.clientWidth;
    node.style.transform = `translate(${left - 9}px, ${top - 9}px)`;
  }
}

function zoomToSelect(self) {
  const from = self.posToVal(self.select.left, "x");
  const to = self.posToVal(self.select.left + self.select.width, "x");
  view(from, to);
  self.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
}

/* Show a stretch, kept inside the take. */
function view(from, to) {
  const length = Math.min(end, Math.max(SHORTEST_MS, to - from));
  const middle = (from + to) / 2;
  const begin = Math.max(0, Math.min(end - length, middle - length / 2));
  plot.setScale("x", { min: begin, max: begin + length });
}

function zoom(factor) {
  const { min, max } = plot.scales.x;
  const half = ((max - min) * factor) / 2;
  view((min + max) / 2 - half, (min + max) / 2 + half);
}

function shift(share) {
  const { min, max } = plot.scales.x;
  view(min + (max - min) * share, max + (max - min) * share);
}

const whole = () => view(0, end);

/* The mark nearest to a place in the chart (CSS pixels), -1 if none is near. */
function nearest(left, top) {
  const reach = plot.posToVal(NEAR_PX, "x") - plot.posToVal(0, "x");
  const at = plot.posToVal(left, "x");
  let best = -1;
  let least = NEAR_PX ** 2;
  let index = Data.lowest(when.length, (place) => when[place], at - reach);
  for (; index < when.length && when[index] <= at + reach; index += 1) {
    if (carried[index] && !state.carried) continue;
    const dx = plot.valToPos(when[index], "x") - left;
    for (const y of [early[index], late[index]]) {
      const distance = dx ** 2 + (plot.valToPos(y, "y") - top) ** 2;
      if (distance < least) [best, least] = [index, distance];
    }
  }
  return best;
}

function show(index, left, top) {
  if (index !== state.hovered) {
    state.hovered = index;
    ring();
    if (index >= 0) tip.textContent = Data.story(order[index]);
  }
  tip.hidden = index < 0;
  if (index < 0) return;
  tip.style.left = `${Math.max(0, Math.min(left + 12, plot.over.clientWidth - 262))}px`;
  tip.style.top = `${top > plot.over.clientHeight / 2 ? top - 110 : top + 16}px`;
}

function listen(place) {
  let down = null;
  const under = (event) => {
    const box = plot.over.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  plot.over.addEventListener("pointermove", (event) => {
    const [left, top] = under(event);
    show(nearest(left, top), left, top);
  });
  plot.over.addEventListener("pointerleave", () => show(-1, 0, 0));
  plot.over.addEventListener("pointerdown", (event) => {
    down = under(event);
  });
  plot.over.addEventListener("pointerup", (event) => {
    const [left, top] = under(event);
    const still = down && Math.hypot(left - down[0], top - down[1]) < 5;
    const index = still ? nearest(left, top) : -1;
    if (index >= 0) {
      choose(index);
      calls.play(order[index]);
    }
  });
  plot.over.addEventListener(
    "wheel",
    (event) => {
      if (!event.ctrlKey && !event.metaKey && Math.abs(event.deltaX) <= Math.abs(event.deltaY)) {
        return;
      }
      event.preventDefault();
      if (event.ctrlKey || event.metaKey) zoom(event.deltaY > 0 ? 1.25 : 0.8);
      else shift(event.deltaX / plot.over.clientWidth);
    },
    { passive: false },
  );
  place.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, Home: -when.length, End: when.length };
    if (event.key in step) move(step[event.key]);
    else if (event.key === "ArrowUp") zoom(0.6);
    else if (event.key === "ArrowDown") zoom(1.6);
    else if (event.key === "Enter" && state.chosen >= 0) calls.play(order[state.chosen]);
    else return;
    event.preventDefault();
  });
  new ResizeObserver(() => plot.setSize({ width: place.clientWidth, height: height() })).observe(
    place,
  );
}

/* Choose the next or previous hit that is shown. */
function move(steps) {
  const way = Math.sign(steps);
  let index = state.chosen < 0 && way > 0 ? -1 : state.chosen;
  if (Math.abs(steps) > 1) index = way > 0 ? when.length - 2 : 1;
  do index += way;
  while (index >= 0 && index < when.length && carried[index] && !state.carried);
  if (index >= 0 && index < when.length) choose(index);
}

function choose(index) {
  state.chosen = index;
  const { min, max } = plot.scales.x;
  if (when[index] < min || when[index] > max) {
    view(when[index] - (max - min) / 2, when[index] + (max - min) / 2);
  }
  ring();
  calls.choose(order[index]);
}

/* Choose a hit by its number in the take. */
const chooseHit = (hit) => choose(order.indexOf(hit));

/* The playhead; with `follow` the view turns over when it leaves. */
function playhead(ms, follow) {
  const { min, max } = plot.scales.x;
  if (follow && (ms > max || ms < min) && max - min < end) {
    view(ms - (max - min) * 0.08, ms + (max - min) * 0.92);
  }
  const left = plot.valToPos(ms, "x");
  head.hidden = left < 0 || left > plot.over.clientWidth;
  head.style.transform = `translateX(${left}px)`;
}

function set(settings) {
  Object.assign(state, settings);
  plot.redraw(false);
}

/* The marks as the chart has them: number of the hit, when, before, after. */
const points = () =>
  order.map((hit, index) => [hit, plot.data[0][index], plot.data[1][index], plot.data[2][index]]);

const redraw = () => plot.redraw(false);

const spot = (ms, deviation) => [plot.valToPos(ms, "x"), plot.valToPos(deviation, "y")];

const limits = () => [plot.scales.x.min, plot.scales.x.max];

export {
  barAxis,
  chooseHit as choose,
  limits,
  make,
  msAxis,
  playhead,
  points,
  redraw,
  set,
  shift,
  spot,
  view,
  whole,
  zoom,
};
