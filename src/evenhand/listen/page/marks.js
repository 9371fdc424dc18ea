/* The marks of the main chart: where each hit stands, and how it is drawn on uPlot's canvas. Each
   family of pieces has its own shape, so that it can be told without its colour. */
import * as Data from "./data.js";
import { colour } from "../web/colours.js";
import { uPlot } from "../web/plot.js";

const hits = Data.hits;
const order = Data.order.before;
const end = Data.all.end_ms || 1;
const when = Float64Array.from(order, (hit) => hits.before[hit]);
const early = Float64Array.from(order, (hit) => hits.deviation_before[hit]);
const late = Float64Array.from(order, (hit) => hits.deviation_after[hit]);
const carried = Uint8Array.from(order, (hit) => (hits.lined[hit] ? 0 : 1));

/* Colour and shape of each family of pieces; the shape also tells them apart in print. */
const FAMILIES = [
  { name: "kick", colour: "--kick", shape: "square", has: (piece) => piece === "kick" },
  { name: "snare", colour: "--snare", shape: "round", has: (piece) => piece === "snare" },
  { name: "side stick", colour: "--stick", shape: "diamond", has: (one) => one === "side stick" },
  { name: "hat", colour: "--hat", shape: "cross", open: true, has: (piece) => piece === "hat" },
  {
    name: "cymbals",
    colour: "--cymbal",
    shape: "up",
    has: (piece) => ["ride", "crash", "splash", "china"].includes(piece),
  },
  { name: "toms", colour: "--tom", shape: "down", has: (piece) => piece.startsWith("tom ") },
  { name: "other pieces", colour: "--other", shape: "plus", open: true, has: () => true },
];
const familyOfPiece = hits
  ? hits.pieces.map((piece) => FAMILIES.findIndex((family) => family.has(piece)))
  : [];
const family = Uint8Array.from(order, (hit) => familyOfPiece[hits.piece[hit]]);

const SHAPES = {
  square: (path, x, y, r) => path.rect(x - r * 0.9, y - r * 0.9, r * 1.8, r * 1.8),
  round: (path, x, y, r) => {
    path.moveTo(x + r, y);
    path.arc(x, y, r, 0, 2 * Math.PI);
  },
  diamond: (path, x, y, r) => polygon(path, x, y, r * 1.2, [[0, -1], [1, 0], [0, 1], [-1, 0]]),
  up: (path, x, y, r) => polygon(path, x, y, r, [[0, -1.1], [1, 0.8], [-1, 0.8]]),
  down: (path, x, y, r) => polygon(path, x, y, r, [[0, 1.1], [1, -0.8], [-1, -0.8]]),
  cross: (path, x, y, r) => strokes(path, x, y, r * 0.8, [[-1, -1, 1, 1], [-1, 1, 1, -1]]),
  plus: (path, x, y, r) => strokes(path, x, y, r, [[-1, 0, 1, 0], [0, -1, 0, 1]]),
};

function polygon(path, x, y, r, corners) {
  corners.forEach(([dx, dy], index) =>
    index ? path.lineTo(x + dx * r, y + dy * r) : path.moveTo(x + dx * r, y + dy * r),
  );
  path.closePath();
}

function strokes(path, x, y, r, lines) {
  for (const [ax, ay, bx, by] of lines) {
    path.moveTo(x + ax * r, y + ay * r);
    path.lineTo(x + bx * r, y + by * r);
  }
}

function highest() {
  let most = 25;
  for (let index = 0; index < when.length; index += 1) {
    most = Math.max(most, Math.abs(early[index]), Math.abs(late[index]));
  }
  for (const [, , width] of Data.all.window) most = Math.max(most, width);
  return Math.ceil(most * 1.12);
}

function band(self, from, to, low, high, fill) {
  const { ctx } = self;
  const left = self.valToPos(from, "x", true);
  const right = self.valToPos(to, "x", true);
  const top = self.valToPos(high, "y", true);
  ctx.fillStyle = fill;
  ctx.fillRect(left, top, Math.max(1, right - left), self.valToPos(low, "y", true) - top);
}

function clipped(self, draw) {
  const { ctx, bbox } = self;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  draw(ctx);
  ctx.restore();
}

/* What lies behind the marks: sections as bands with their names, the window. */
function behind(self) {
  clipped(self, (ctx) => {
    const { min, max } = self.scales.y;
    Data.all.sections.forEach((section, index) => {
      if (index % 2) band(self, section.from_ms, section.to_ms, min, max, colour("--section"));
    });
    Data.all.window.forEach(([from, to, width], index) => {
      const begin = index ? from : Math.min(0, from);
      const stop = index + 1 < Data.all.window.length ? Data.all.window[index + 1][0] : end;
      band(self, begin, Math.max(to, stop), -width, width, colour("--window"));
    });
    ctx.fillStyle = colour("--quiet");
    ctx.font = `${12 * uPlot.pxRatio}px system-ui, sans-serif`;
    ctx.textAlign = "left";
    ctx.textBaseline = "bottom";
    for (const section of Data.all.sections) {
      const left = Math.max(self.valToPos(section.from_ms, "x", true), self.bbox.left);
      const room = self.valToPos(section.to_ms, "x", true) - left - 8;
      const bottom = self.bbox.top + self.bbox.height - 4 * uPlot.pxRatio;
      if (room > 24 * uPlot.pxRatio) ctx.fillText(fitted(ctx, section.name, room), left + 4, bottom);
    }
  });
}

function fitted(ctx, text, room) {
  let shown = text;
  while (shown.length > 1 && ctx.measureText(shown).width > room) {
    shown = `${shown.slice(0, -2).trimEnd()}…`;
  }
  return shown;
}

function lineAt(self, from, to, y, dash, ink) {
  const { ctx } = self;
  ctx.beginPath();
  ctx.setLineDash(dash.map((length) => length * uPlot.pxRatio));
  ctx.moveTo(self.valToPos(from, "x", true), self.valToPos(y, "y", true));
  ctx.lineTo(self.valToPos(to, "x", true), self.valToPos(y, "y", true));
  ctx.lineWidth = 1.5 * uPlot.pxRatio;
  ctx.strokeStyle = ink;
  ctx.stroke();
  ctx.setLineDash([]);
}

/* Marks of all hits in view, one path for each family, side and faintness. */
function marks(self, ctx, state) {
  const { min, max } = self.scales.x;
  const from = Data.lowest(when.length, (index) => when[index], min - 100);
  const to = Data.lowest(when.length, (index) => when[index], max + 100);
  const ratio = uPlot.pxRatio;
  const crowd = (to - from) / (self.bbox.width / ratio);
  const size = Math.max(1.8, Math.min(5, 4.5 / Math.sqrt(Math.max(0.25, crowd * 3)))) * ratio;
  // Marks as small as this look alike: the cheapest shape will do.
  const tiny = size <= 2.2 * ratio;
  const paths = FAMILIES.map(() => [0, 1, 2, 3].map(() => new Path2D()));
  const joins = new Path2D();
  const { left, top, width, height } = self.bbox;
  const across = width / (max - min);
  const up = height / (self.scales.y.max - self.scales.y.min);
  const most = self.scales.y.max;
  for (let index = from; index < to; index += 1) {
    if (carried[index] && !state.carried) continue;
    const { shape, open } = FAMILIES[family[index]];
    const draw = tiny && !open ? SHAPES.square : SHAPES[shape];
    const faint = carried[index] ? 2 : 0;
    const r = carried[index] ? size * 0.75 : size;
    const x = left + (when[index] - min) * across;
    const before = top + (most - early[index]) * up;
    const after = top + (most - late[index]) * up;
    draw(paths[family[index]][faint], x, before, r);
    draw(paths[family[index]][faint + 1], x, after, r);
    if (Math.abs(after - before) > 1.5 * r) {
      joins.moveTo(x, before);
      joins.lineTo(x, after);
    }
  }
  ctx.lineWidth = ratio;
  ctx.globalAlpha = 0.45;
  ctx.strokeStyle = colour("--quiet");
  ctx.stroke(joins);
  FAMILIES.forEach(({ colour: name, open }, index) => {
    ctx.strokeStyle = colour(name);
    ctx.fillStyle = colour(name);
    [2, 3, 0, 1].forEach((layer) => {
      ctx.globalAlpha = layer > 1 ? 0.4 : 0.95;
      // An open shape can't be filled: after the pass it is drawn thicker.
      ctx.lineWidth = (open && layer % 2 ? 2 : 1) * ratio;
      if (layer % 2 && !open) ctx.fill(paths[index][layer]);
      else ctx.stroke(paths[index][layer]);
    });
  });
  ctx.globalAlpha = 1;
}

function flags(self, ctx) {
  const ratio = uPlot.pxRatio;
  const top = self.bbox.top;
  ctx.fillStyle = colour("--flag");
  ctx.strokeStyle = colour("--flag");
  ctx.lineWidth = ratio;
  for (const flag of Data.all.flags) {
    const x = self.valToPos(hits.before[flag.hits[0]], "x", true);
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x, top + 16 * ratio);
    ctx.stroke();
    ctx.beginPath();
    polygon(ctx, x + 4 * ratio, top + 4 * ratio, 4 * ratio, [[-1, -1], [1.4, 0], [-1, 1]]);
    ctx.fill();
  }
}

/* The marks, the lean of each section, the flags. */
function front(self, state) {
  clipped(self, (ctx) => {
    marks(self, ctx, state);
    for (const { from_ms, to_ms, lean_before, lean_after } of Data.all.sections) {
      if (lean_before === null) continue;
      lineAt(self, from_ms, to_ms, lean_before, [5, 4], colour("--ink"));
      lineAt(self, from_ms, to_ms, lean_after, [], colour("--ink"));
    }
    flags(self, ctx);
  });
}

export {
  FAMILIES,
  SHAPES,
  familyOfPiece,
  order,
  when,
  early,
  late,
  carried,
  end,
  highest,
  behind,
  front,
};
