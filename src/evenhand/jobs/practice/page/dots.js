/* A chart of takes as marks, on uPlot's scales and axes; by mouse and by keyboard. */
import * as Facts from "./facts.js";
import * as Shapes from "./shapes.js";
import { axis } from "../web/axes.js";
import { colour } from "../web/colours.js";
import { uPlot } from "../web/plot.js";

const NEAR_PX = 16;

/* Days as they stand in the names of files, and none twice. */
const DAY = 86400;
const DAYS = {
  incrs: [1, 2, 7, 14, 28, 91, 182, 364, 728, 1820].map((days) => days * DAY),
  values: (self, splits) =>
    splits.map((seconds) => new Date(seconds * 1000).toISOString().slice(0, 10)),
  space: 90,
};

const height = () => (window.innerWidth < 600 ? 300 : 340);

/* From nothing to the largest, or as far below nothing as needed; nothing is always in sight. */
function heights(dots) {
  const values = dots.map((dot) => dot.y);
  const most = Math.max(0, ...values);
  const least = Math.min(0, ...values);
  const room = (most - least || 1) * 0.08;
  return [least < 0 ? least - room : 0, most + room];
}

function widths(dots, room) {
  const values = dots.map((dot) => dot.x);
  if (!values.length) return [0, 1];
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const edge = Math.max(room, (most - least) * 0.05);
  return [least - edge, most + edge];
}

/* `dots`: {x, y, group, point} in order of x; `lines`: {group, spots, sure};
   `bands`: [x, height] from nothing up. */
function make(place, told, { days, room, label }) {
  const now = { dots: [], lines: [], band: [], chosen: -1 };
  const nothing = { paths: () => null, points: { show: false } };
  const size = () => ({ width: place.clientWidth, height: height() });
  const plot = new uPlot(
    {
      ...size(),
      padding: [8, 12, 0, 0],
      legend: { show: false },
      tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), "Etc/UTC"),
      scales: {
        x: { time: days, range: () => widths(now.dots, room) },
        y: { range: () => heights(now.dots) },
      },
      axes: [days ? axis(DAYS) : axis({ label: "bpm" }), axis({ size: 55, label: () => now.label })],
      series: [{}, { label, ...nothing }],
      cursor: { show: false },
      hooks: { draw: [draw] },
    },
    [[], []],
    place,
  );

  function spot(self, x, y) {
    return [self.valToPos(x, "x", true), self.valToPos(y, "y", true)];
  }

  function path(self, spots) {
    self.ctx.beginPath();
    spots.forEach(([x, y], index) => {
      const [left, top] = spot(self, x, y);
      if (index) self.ctx.lineTo(left, top);
      else self.ctx.moveTo(left, top);
    });
  }

  function draw(self) {
    const { ctx, bbox } = self;
    const ratio = uPlot.pxRatio;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    if (now.band.length) {
      const [[first], [last]] = [now.band[0], now.band[now.band.length - 1]];
      path(self, [...now.band, [last, 0], [first, 0]]);
      ctx.fillStyle = colour("--window");
      ctx.fill();
    }
    for (const { group, spots, sure } of now.lines) {
      path(self, spots);
      ctx.strokeStyle = Shapes.colourOf(group);
      ctx.lineWidth = (sure ? 2.5 : 1) * ratio;
      ctx.setLineDash(sure ? [8 * ratio, 5 * ratio] : []);
      ctx.globalAlpha = sure ? 1 : 0.6;
      ctx.stroke();
    }
    ctx.setLineDash([]);
    ctx.globalAlpha = 0.9;
    const r = (now.dots.length > 300 ? 3 : 5) * ratio;
    now.dots.forEach(({ x, y, group }, index) => {
      const [left, top] = spot(self, x, y);
      ctx.fillStyle = Shapes.colourOf(group);
      Shapes.draw(ctx, group, left, top, r);
      if (index !== now.chosen) return;
      ctx.strokeStyle = colour("--ink");
      ctx.lineWidth = 2 * ratio;
      ctx.beginPath();
      ctx.arc(left, top, r * 2, 0, 2 * Math.PI);
      ctx.stroke();
    });
    ctx.restore();
  }

  function choose(index) {
    if (index === now.chosen) return;
    now.chosen = index;
    if (index >= 0) told.textContent = Facts.story(now.dots[index].point);
    plot.redraw(false);
  }

  /* The mark nearest to a place (CSS pixels), -1 if none is near. */
  function nearest(left, top) {
    let best = -1;
    let least = NEAR_PX ** 2;
    now.dots.forEach(({ x, y }, index) => {
      const distance =
        (plot.valToPos(x, "x") - left) ** 2 + (plot.valToPos(y, "y") - top) ** 2;
      if (distance < least) [best, least] = [index, distance];
    });
    return best;
  }

  function show(dots, lines, band, words) {
    Object.assign(now, { dots, lines, band, chosen: -1, label: words });
    told.textContent = dots.length
      ? "No take chosen: point at a mark, or use the arrow keys in the chart."
      : "There are no figures for this choice: too few hits, or none at this tempo.";
    plot.setData([dots.map((dot) => dot.x), dots.map((dot) => dot.y)]);
  }

  plot.over.addEventListener("pointermove", (event) => {
    const box = plot.over.getBoundingClientRect();
    const index = nearest(event.clientX - box.left, event.clientY - box.top);
    if (index >= 0) choose(index);
  });
  place.addEventListener("keydown", (event) => {
    const last = now.dots.length - 1;
    const to = {
      ArrowLeft: Math.max(0, now.chosen - 1),
      ArrowRight: Math.min(last, now.chosen + 1),
      Home: 0,
      End: last,
    }[event.key];
    if (to === undefined || last < 0) return;
    event.preventDefault();
    choose(to);
  });
  new ResizeObserver(() => plot.setSize(size())).observe(place);
  return {
    show,
    dots: () => now.dots,
    lines: () => now.lines,
    spot: ({ x, y }) => [plot.valToPos(x, "x"), plot.valToPos(y, "y")],
  };
}

export { make };
