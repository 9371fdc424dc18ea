/* The strip of bars: one cell a bar, the darker the further something in it moved; a mark where
   something is left for the ear. A click plays from there, a drag makes a loop. */
import { colour } from "../web/colours.js";
import { make, one, soon } from "../web/dom.js";
import { lowest, now } from "./model.js";
import { isDone, places } from "./places.js";
import { barAt, barMs, barStarts } from "./time.js";
import { shown } from "./words.js";

/* How much a move has to be for the darkest cell, ms. */
const DARKEST_MS = 40;
const CELL_PX = 34;
const LEAST_PX = 7;
const NAME_PX = 16;

const view = {
  canvas: null,
  calls: null,
  count: 0,
  rows: 1,
  each: 1,
  width: 0,
  at: 0,
  drag: null,
  moves: [],
};

/* The largest move in each bar, ms. */
function measure() {
  const bars = barStarts();
  const music = now.all.music_ms;
  const count = Math.max(1, lowest(bars.length, (index) => bars[index][0], music + 1e-6));
  if (count !== view.count) view.width = 0;
  view.count = count;
  view.moves = new Float64Array(view.count);
  const { before, after } = now.hits;
  let bar = 0;
  for (const hit of now.order.before) {
    while (bar < count - 1 && bars[bar + 1][0] <= before[hit] + 1e-6) bar += 1;
    view.moves[bar] = Math.max(view.moves[bar], Math.abs(after[hit] - before[hit]));
  }
}

/* Where the cells go; only when the room or the number of bars is another. */
function layOut() {
  const width = view.canvas.clientWidth;
  view.width = width;
  view.rows = Math.max(1, Math.ceil((view.count * LEAST_PX) / width));
  view.each = Math.ceil(view.count / view.rows);
  const height = view.rows * (CELL_PX + NAME_PX);
  view.canvas.style.height = `${height}px`;
  const ratio = window.devicePixelRatio || 1;
  view.canvas.width = Math.round(width * ratio);
  view.canvas.height = Math.round(height * ratio);
  view.ratio = ratio;
}

function box(bar, width) {
  const cell = Math.min(28, width / view.each);
  const row = Math.floor(bar / view.each);
  return [(bar % view.each) * cell, row * (CELL_PX + NAME_PX) + NAME_PX, cell, CELL_PX];
}

function names(ctx, width) {
  ctx.fillStyle = colour("--quiet");
  ctx.font = "11px system-ui, sans-serif";
  ctx.textBaseline = "middle";
  let free = -1;
  let row = -1;
  for (const section of now.all.sections) {
    const bar = barAt(section.from_ms + 1);
    if (bar >= view.count) continue;
    const [left, top] = box(bar, width);
    if (top !== row) free = -1;
    row = top;
    ctx.fillRect(left, top - NAME_PX + 2, 1, NAME_PX - 4 + CELL_PX);
    if (left < free) continue;
    const text = shown(section.name);
    const wide = ctx.measureText(text).width;
    if (left + 5 + wide > width) continue;
    ctx.fillText(text, left + 5, top - NAME_PX / 2);
    free = left + wide + 14;
  }
}

function cells(ctx, width) {
  const gap = width / view.each > 5 ? 1 : 0.5;
  for (let bar = 0; bar < view.count; bar += 1) {
    const [left, top, wide, high] = box(bar, width);
    ctx.globalAlpha = 1;
    ctx.fillStyle = colour("--cell");
    ctx.fillRect(left, top, wide - gap, high);
    ctx.globalAlpha = Math.min(1, view.moves[bar] / DARKEST_MS);
    ctx.fillStyle = colour("--moved");
    ctx.fillRect(left, top, wide - gap, high);
  }
  ctx.globalAlpha = 1;
}

function earMarks(ctx, width) {
  ctx.fillStyle = colour("--flag");
  ctx.strokeStyle = colour("--flag");
  for (const item of places()) {
    const bar = Math.min(view.count - 1, barAt(item.ms + 1));
    const [left, top, wide, high] = box(bar, width);
    ctx.beginPath();
    ctx.arc(left + wide / 2 - 0.5, top + high - 6, Math.min(3.5, wide / 2), 0, 2 * Math.PI);
    if (isDone(item)) ctx.stroke();
    else ctx.fill();
  }
}

function outline(ctx, width, from, to, ink) {
  ctx.strokeStyle = colour(ink);
  ctx.lineWidth = 2;
  for (let bar = from; bar <= to; bar += 1) {
    const [left, top, wide, high] = box(bar, width);
    ctx.beginPath();
    ctx.moveTo(left, top - 1);
    ctx.lineTo(left + wide, top - 1);
    ctx.moveTo(left, top + high + 1);
    ctx.lineTo(left + wide, top + high + 1);
    if (bar === from) ctx.rect(left, top - 1, 0, high + 2);
    if (bar === to) ctx.rect(left + wide - 1, top - 1, 0, high + 2);
    ctx.stroke();
  }
  ctx.lineWidth = 1;
}

const draw = soon(() => {
  if (!view.width) layOut();
  const { width, ratio } = view;
  const ctx = view.canvas.getContext("2d");
  ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
  ctx.clearRect(0, 0, width, view.canvas.height);
  cells(ctx, width);
  names(ctx, width);
  earMarks(ctx, width);
  const loop = view.drag?.moved ? [view.drag.from, view.drag.to] : view.loop;
  if (loop) outline(ctx, width, Math.min(...loop), Math.max(...loop), "--ink");
  outline(ctx, width, view.at, view.at, "--after");
});

/* What changed is measured and drawn anew. */
function redraw() {
  measure();
  draw();
}

function barUnder(event) {
  const place = view.canvas.getBoundingClientRect();
  const cell = Math.min(28, place.width / view.each);
  const row = Math.floor((event.clientY - place.top) / (CELL_PX + NAME_PX));
  const column = Math.floor((event.clientX - place.left) / cell);
  const bar = Math.max(0, Math.min(view.rows - 1, row)) * view.each + Math.min(view.each - 1, column);
  return Math.max(0, Math.min(view.count - 1, bar));
}

function tell(bar) {
  const number = barStarts()[bar]?.[1] ?? 1;
  const here = places().filter(({ ms }) => barAt(ms + 1) === bar);
  const moved = view.moves[bar] < 0.05 ? "nothing moved" : `up to ${view.moves[bar].toFixed(0)} ms`;
  const ear = here.length ? `; ${here.map(({ kind }) => kind).join(", ")}` : "";
  return `Bar ${number}: ${moved}${ear}`;
}

/* Follow the sound: the bar at a time is outlined. */
function follow(ms) {
  const bar = Math.min(view.count - 1, barAt(ms));
  if (bar === view.at) return;
  view.at = bar;
  view.canvas.setAttribute("aria-valuenow", `${barStarts()[bar]?.[1] ?? 1}`);
  view.canvas.setAttribute("aria-valuetext", tell(bar));
  draw();
}

/* Show a loop, given in ms; null for none. */
function showLoop(loop) {
  view.loop = loop && [barAt(loop[0] + 1), Math.max(barAt(loop[0] + 1), barAt(loop[1] - 1))];
  draw();
}

function listen() {
  const { canvas, calls } = view;
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    const bar = barUnder(event);
    view.drag = { from: bar, to: bar, moved: false };
    canvas.setPointerCapture(event.pointerId);
  });
  canvas.addEventListener("pointermove", (event) => {
    const bar = barUnder(event);
    one("strip-told").textContent = tell(bar);
    if (!view.drag || bar === view.drag.to) return;
    view.drag.to = bar;
    view.drag.moved = true;
    draw();
  });
  canvas.addEventListener("pointerup", () => {
    const { drag } = view;
    view.drag = null;
    if (!drag) return;
    const [from, to] = [Math.min(drag.from, drag.to), Math.max(drag.from, drag.to)];
    if (drag.moved) calls.loop([barMs(from), barMs(to + 1)]);
    else calls.play(barMs(from), barMs(from + 1));
  });
  canvas.addEventListener("pointercancel", () => {
    view.drag = null;
    draw();
  });
  canvas.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -view.each, ArrowDown: view.each }[event.key];
    if (event.key === "Enter") calls.play(barMs(view.at), barMs(view.at + 1));
    else if (step) {
      const bar = Math.max(0, Math.min(view.count - 1, view.at + step));
      calls.look(barMs(bar), barMs(bar + 1));
    } else return;
    event.preventDefault();
  });
  new ResizeObserver(() => {
    view.width = 0;
    draw();
  }).observe(canvas.parentElement);
}

/* `calls`: {play(from, to), look(from, to), loop([from, to])}, ms. */
function start(place, calls) {
  view.canvas = make("canvas", "", {
    tabindex: "0",
    role: "slider",
    "aria-label": "Bars: arrow keys go from bar to bar, Enter plays",
    "aria-valuemin": `${barStarts()[0]?.[1] ?? 1}`,
    "aria-valuenow": `${barStarts()[0]?.[1] ?? 1}`,
  });
  view.calls = calls;
  place.append(view.canvas);
  measure();
  view.canvas.setAttribute("aria-valuemax", `${barStarts()[view.count - 1]?.[1] ?? 1}`);
  view.canvas.setAttribute("aria-valuetext", tell(0));
  draw();
  listen();
}

const worst = () => view.moves.indexOf(Math.max(...view.moves));

const count = () => view.count;

export { count, draw, follow, redraw, showLoop, start, worst };
