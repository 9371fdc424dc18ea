/* How the main chart is drawn on uPlot's canvas: what lies behind the marks, the marks, flags. */
import { colour } from "../web/colours.js";
import { uPlot } from "../web/plot.js";
import { between, marks } from "./marks.js";
import { lowest, now } from "./model.js";
import { FAMILIES, SHAPES, polygon } from "./shapes.js";
import { shown } from "./words.js";

/* Beat lines are drawn from this width of a beat on, CSS pixels. */
const BEAT_PX = 14;

function clipped(self, draw) {
  const { ctx, bbox } = self;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  draw(ctx);
  ctx.restore();
}

/* A stretch of time as a column of the chart, or as a strip at its lower edge. */
function stretch(self, [from, to], fill, lowStrip = 0) {
  const { ctx, bbox } = self;
  const left = self.valToPos(from, "x", true);
  const right = self.valToPos(to, "x", true);
  const height = lowStrip ? lowStrip * uPlot.pxRatio : bbox.height;
  ctx.fillStyle = fill;
  ctx.fillRect(left, bbox.top + bbox.height - height, Math.max(1, right - left), height);
}

/* The band where strokes are left alone, in steps. */
function band(self, ctx) {
  const { ms, low, high } = now.all.band;
  const { min, max } = self.scales.x;
  const from = Math.max(0, lowest(ms.length, (index) => ms[index], min) - 1);
  const to = lowest(ms.length, (index) => ms[index], max);
  // On whole pixels, each step by itself: quicker by far than one path of thousands.
  ctx.fillStyle = colour("--window");
  let left = Math.round(self.valToPos(ms[from] ?? 0, "x", true));
  for (let index = from; index < to; index += 1) {
    const right = Math.round(self.valToPos(ms[index + 1] ?? now.all.music_ms, "x", true));
    if (right === left) continue;
    const top = self.valToPos(high[index], "y", true);
    ctx.fillRect(left, top, right - left, self.valToPos(low[index], "y", true) - top);
    left = right;
  }
}

function beatLines(self, ctx) {
  const { beats } = now.all;
  const { min, max } = self.scales.x;
  const from = lowest(beats.ms.length, (index) => beats.ms[index], min);
  const to = lowest(beats.ms.length, (index) => beats.ms[index], max);
  if ((to - from) * BEAT_PX * uPlot.pxRatio > self.bbox.width) return;
  ctx.beginPath();
  for (let index = from; index < to; index += 1) {
    if (beats.first[index]) continue;
    const x = Math.round(self.valToPos(beats.ms[index], "x", true)) + 0.5;
    ctx.moveTo(x, self.bbox.top);
    ctx.lineTo(x, self.bbox.top + self.bbox.height);
  }
  ctx.strokeStyle = colour("--grid");
  ctx.setLineDash([2 * uPlot.pxRatio, 4 * uPlot.pxRatio]);
  ctx.stroke();
  ctx.setLineDash([]);
}

function fitted(ctx, text, room) {
  let part = text;
  while (part.length > 1 && ctx.measureText(part).width > room) {
    part = `${part.slice(0, -2).trimEnd()}…`;
  }
  return part;
}

function sectionNames(self, ctx) {
  ctx.fillStyle = colour("--quiet");
  ctx.font = `${12 * uPlot.pxRatio}px system-ui, sans-serif`;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  for (const section of now.all.sections) {
    const left = Math.max(self.valToPos(section.from_ms, "x", true), self.bbox.left);
    const room = self.valToPos(section.to_ms, "x", true) - left - 8;
    const bottom = self.bbox.top + self.bbox.height - 8 * uPlot.pxRatio;
    if (room > 24 * uPlot.pxRatio) {
      ctx.fillText(fitted(ctx, shown(section.name), room), left + 4, bottom);
    }
  }
}

/* Bars that ran ahead or behind as one: as far from the line as they ran. */
function push(self, ctx, { from_ms, to_ms, ms }) {
  const left = self.valToPos(from_ms, "x", true);
  const middle = self.valToPos(0, "y", true);
  const far = self.valToPos(ms, "y", true);
  ctx.fillStyle = colour("--push");
  ctx.fillRect(left, middle, Math.max(1, self.valToPos(to_ms, "x", true) - left), far - middle);
}

/* What lies behind the marks: sections, pushes, fills, what is held, the band, beats. */
function behind(self, held) {
  clipped(self, (ctx) => {
    now.all.sections.forEach((section, index) => {
      if (index % 2) stretch(self, [section.from_ms, section.to_ms], colour("--section"));
    });
    band(self, ctx);
    beatLines(self, ctx);
    for (const one of now.all.pushes) push(self, ctx, one);
    for (const fill of now.all.fills) stretch(self, fill, colour("--fill"), 5);
    for (const hold of held) stretch(self, hold, colour("--held"));
    sectionNames(self, ctx);
  });
}

function lineAt(self, [from, to], y, dash) {
  const { ctx } = self;
  ctx.beginPath();
  ctx.setLineDash(dash.map((length) => length * uPlot.pxRatio));
  ctx.moveTo(self.valToPos(from, "x", true), self.valToPos(y, "y", true));
  ctx.lineTo(self.valToPos(to, "x", true), self.valToPos(y, "y", true));
  ctx.lineWidth = 1.5 * uPlot.pxRatio;
  ctx.strokeStyle = colour("--ink");
  ctx.stroke();
  ctx.setLineDash([]);
}

/* How large marks are where so many stand in view, CSS pixels. */
function sizeFor(count, width) {
  return Math.max(1.8, Math.min(5.5, 4.5 / Math.sqrt(Math.max(0.2, (count / width) * 3))));
}

/* Marks of all hits in view. Where a hit did not move, what it is after the pass covers what it was
   before. */
function drawMarks(self, ctx, state) {
  const { min, max } = self.scales.x;
  const [from, to] = between(min - 100, max + 100);
  const ratio = uPlot.pxRatio;
  const size = sizeFor(to - from, self.bbox.width / ratio) * ratio;
  // Marks as small as this look alike: the cheapest shape will do.
  const draw = size <= 2.2 * ratio ? new Dots(ratio) : new Shapes(ratio);
  const joins = new Path2D();
  const { left, top, width, height } = self.bbox;
  const across = width / (max - min);
  const up = height / (self.scales.y.max - self.scales.y.min);
  const most = self.scales.y.max;
  const inside = (y) => Math.max(top + size, Math.min(top + height - size, y));
  for (let index = from; index < to; index += 1) {
    if (marks.carried[index] && !state.carried) continue;
    const faint = marks.carried[index] ? 2 : 0;
    const r = marks.carried[index] ? size * 0.75 : size;
    const x = left + (marks.when[index] - min) * across;
    const before = inside(top + (most - marks.early[index]) * up);
    const after = inside(top + (most - marks.late[index]) * up);
    if (Math.abs(after - before) >= 0.5) draw.add(marks.family[index], faint, x, before, r);
    draw.add(marks.family[index], faint + 1, x, after, r);
    if (Math.abs(after - before) > 1.5 * r) {
      joins.moveTo(x, before);
      joins.lineTo(x, after);
    }
  }
  ctx.lineWidth = ratio;
  ctx.globalAlpha = 0.45;
  ctx.strokeStyle = colour("--quiet");
  ctx.stroke(joins);
  FAMILIES.forEach(({ colour: name }, family) => {
    ctx.strokeStyle = colour(name);
    ctx.fillStyle = colour(name);
    [2, 3, 0, 1].forEach((layer) => {
      ctx.globalAlpha = layer > 1 ? 0.4 : 0.95;
      draw.paint(ctx, family, layer);
    });
  });
  ctx.globalAlpha = 1;
}

/* Four layers for each family: before and after the pass, and both of hits that are carried. */
const layered = (make) => FAMILIES.map(() => [0, 1, 2, 3].map(make));

/* Marks with the shape of their family, one path for each layer. */
class Shapes {
  constructor(ratio) {
    this.ratio = ratio;
    this.paths = layered(() => new Path2D());
  }

  add(family, layer, x, y, r) {
    SHAPES[FAMILIES[family].shape](this.paths[family][layer], x, y, r);
  }

  paint(ctx, family, layer) {
    const { open } = FAMILIES[family];
    // An open shape can't be filled: after the pass it is drawn thicker.
    ctx.lineWidth = (open && layer % 2 ? 2 : 1) * this.ratio;
    if (layer % 2 && !open) ctx.fill(this.paths[family][layer]);
    else ctx.stroke(this.paths[family][layer]);
  }
}

/* Marks as rectangles, an upright line for open shapes; of those on one spot only one is drawn. A
   path of thousands of shapes would take a second to fill. */
class Dots {
  constructor(ratio) {
    this.ratio = ratio;
    this.spots = layered(() => new Map());
  }

  add(family, layer, x, y, r) {
    const spot = Math.round(x) * 65536 + Math.round(y);
    this.spots[family][layer].set(spot, Math.max(1, Math.round(1.8 * r)));
  }

  paint(ctx, family, layer) {
    const thin = Math.round((layer % 2 ? 2 : 1) * this.ratio);
    for (const [spot, size] of this.spots[family][layer]) {
      const wide = FAMILIES[family].open ? thin : size;
      const x = Math.floor(spot / 65536) - (wide >> 1);
      ctx.fillRect(x, (spot % 65536) - (size >> 1), wide, size);
    }
  }
}

/* Flags at the upper edge: full while they wait to be heard, hollow once they were. */
function flags(self, ctx, items) {
  const ratio = uPlot.pxRatio;
  const { top } = self.bbox;
  ctx.fillStyle = colour("--flag");
  ctx.strokeStyle = colour("--flag");
  ctx.lineWidth = ratio;
  for (const { ms, done } of items) {
    const x = self.valToPos(ms, "x", true);
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x, top + 18 * ratio);
    ctx.stroke();
    ctx.beginPath();
    polygon(ctx, x + 5 * ratio, top + 5 * ratio, 5 * ratio, [[-1, -1], [1.4, 0], [-1, 1]]);
    if (done) ctx.stroke();
    else ctx.fill();
  }
}

/* Hits that were nudged by hand have a pin. */
function pins(self, ctx, nudged) {
  ctx.strokeStyle = colour("--ink");
  ctx.lineWidth = 1.5 * uPlot.pxRatio;
  for (const hit of nudged) {
    const x = self.valToPos(now.hits.before[hit], "x", true);
    const y = self.valToPos(now.hits.deviation_after[hit], "y", true);
    ctx.beginPath();
    ctx.arc(x, y, 8 * uPlot.pxRatio, 0, 2 * Math.PI);
    ctx.stroke();
  }
}

/* The marks, the lean of each section, pins, the flags. */
function front(self, state) {
  clipped(self, (ctx) => {
    drawMarks(self, ctx, state);
    for (const { from_ms, to_ms, lean_before, lean_after } of now.all.sections) {
      if (lean_before === null) continue;
      lineAt(self, [from_ms, to_ms], lean_before, [5, 4]);
      lineAt(self, [from_ms, to_ms], lean_after, []);
    }
    pins(self, ctx, state.nudged);
    flags(self, ctx, state.flags);
  });
}

export { behind, front };
