/* The main chart: time in bars against deviation in ms. uPlot keeps scales, axes and zoom; the
   marks are drawn here, because each piece has its own shape. */
/* global Data, uPlot */
"use strict";

const Chart = (() => {
  const NEAR_PX = 14;
  const SHORTEST_MS = 400;
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
    { name: "hat", colour: "--hat", shape: "cross", has: (piece) => piece === "hat" },
    {
      name: "cymbals",
      colour: "--cymbal",
      shape: "up",
      has: (piece) => ["ride", "crash", "splash", "china"].includes(piece),
    },
    { name: "toms", colour: "--tom", shape: "down", has: (piece) => piece.startsWith("tom ") },
    { name: "other pieces", colour: "--other", shape: "plus", has: () => true },
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

  const state = { carried: true, chosen: -1, hovered: -1, side: "after" };
  let plot = null;
  let head = null;
  let tip = null;
  let calls = {};

  const colour = (name) =>
    getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#000";

  function highest() {
    let most = 25;
    for (let index = 0; index < when.length; index += 1) {
      most = Math.max(most, Math.abs(early[index]), Math.abs(late[index]));
    }
    for (const [, , width] of Data.all.window) most = Math.max(most, width);
    return Math.ceil(most * 1.12);
  }

  /* Bar lines at a distance that leaves room for their numbers. */
  function barSplits(self, axis, min, max) {
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
  function marks(self, ctx) {
    const { min, max } = self.scales.x;
    const from = Data.lowest(when.length, (index) => when[index], min - 100);
    const to = Data.lowest(when.length, (index) => when[index], max + 100);
    const ratio = uPlot.pxRatio;
    const crowd = (to - from) / (self.bbox.width / ratio);
    const size = Math.max(1.8, Math.min(5, 4.5 / Math.sqrt(Math.max(0.25, crowd * 3)))) * ratio;
    const paths = FAMILIES.map(() => [0, 1, 2, 3].map(() => new Path2D()));
    const joins = new Path2D();
    for (let index = from; index < to; index += 1) {
      if (carried[index] && !state.carried) continue;
      const draw = SHAPES[FAMILIES[family[index]].shape];
      const faint = carried[index] ? 2 : 0;
      const r = carried[index] ? size * 0.75 : size;
      const x = self.valToPos(when[index], "x", true);
      const before = self.valToPos(early[index], "y", true);
      const after = self.valToPos(late[index], "y", true);
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
    FAMILIES.forEach(({ colour: name, shape }, index) => {
      ctx.strokeStyle = colour(name);
      ctx.fillStyle = colour(name);
      const open = shape === "cross" || shape === "plus";
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

  function flagsAndChosen(self, ctx) {
    const ratio = uPlot.pxRatio;
    const top = self.bbox.top;
    ctx.fillStyle = colour("--flag");
    ctx.strokeStyle = colour("--flag");
    ctx.lineWidth = ratio;
    for (const flag of Data.all.flags) {
      const x = self.valToPos(flag.ms, "x", true);
      ctx.beginPath();
      ctx.moveTo(x, top);
      ctx.lineTo(x, top + 16 * ratio);
      ctx.stroke();
      ctx.beginPath();
      polygon(ctx, x + 4 * ratio, top + 4 * ratio, 4 * ratio, [[-1, -1], [1.4, 0], [-1, 1]]);
      ctx.fill();
    }
    for (const index of [state.hovered, state.chosen]) {
      if (index < 0) continue;
      const y = self.valToPos((state.side === "after" ? late : early)[index], "y", true);
      ctx.beginPath();
      ctx.arc(self.valToPos(when[index], "x", true), y, 9 * ratio, 0, 2 * Math.PI);
      ctx.lineWidth = 2 * ratio;
      ctx.strokeStyle = colour("--ink");
      ctx.stroke();
    }
  }

  function before(self) {
    clipped(self, (ctx) => {
      marks(self, ctx);
      for (const { from_ms, to_ms, lean_before, lean_after } of Data.all.sections) {
        if (lean_before === null) continue;
        lineAt(self, from_ms, to_ms, lean_before, [5, 4], colour("--ink"));
        lineAt(self, from_ms, to_ms, lean_after, [], colour("--ink"));
      }
      flagsAndChosen(self, ctx);
    });
  }

  const height = () => (window.innerWidth < 600 ? 300 : 380);

  const axis = (more) => ({
    stroke: () => colour("--quiet"),
    grid: { stroke: () => colour("--grid"), width: 1 },
    ticks: { stroke: () => colour("--grid"), width: 1 },
    font: "12px system-ui, sans-serif",
    ...more,
  });

  /* Axes that all charts of the page share. */
  const barAxis = () =>
    axis({ splits: barSplits, values: (self, splits) => splits.map(barName), space: 30 });

  const msAxis = () =>
    axis({
      size: 44,
      values: (self, splits) => splits.map((ms) => (ms ? Data.signed(ms, 0) : "0")),
    });

  function make(place, wanted) {
    calls = wanted;
    const most = highest();
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
          drawClear: [behind],
          draw: [before],
          setSelect: [(self) => self.select.width > 0 && zoomToSelect(self)],
        },
      },
      [when, early, late],
      place,
    );
    plot.setScale("x", { min: 0, max: end });
    head = document.createElement("div");
    head.className = "head";
    tip = document.createElement("div");
    tip.className = "tip";
    tip.hidden = true;
    plot.over.append(head, tip);
    listen(place);
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
      plot.redraw(false);
      if (index >= 0) tip.textContent = Data.story(order[index]);
    }
    tip.hidden = index < 0;
    if (index < 0) return;
    tip.style.left = `${Math.max(0, Math.min(left + 12, plot.over.clientWidth - 262))}px`;
    tip.style.top = `${top > plot.over.clientHeight / 2 ? top - 110 : top + 16}px`;
  }

  function listen(place) {
    let down = null;
    const spot = (event) => {
      const box = plot.over.getBoundingClientRect();
      return [event.clientX - box.left, event.clientY - box.top];
    };
    plot.over.addEventListener("pointermove", (event) => {
      const [left, top] = spot(event);
      show(nearest(left, top), left, top);
    });
    plot.over.addEventListener("pointerleave", () => show(-1, 0, 0));
    plot.over.addEventListener("pointerdown", (event) => {
      down = spot(event);
    });
    plot.over.addEventListener("pointerup", (event) => {
      const [left, top] = spot(event);
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
    plot.redraw(false);
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

  return {
    FAMILIES,
    SHAPES,
    familyOfPiece,
    colour,
    barAxis,
    msAxis,
    make,
    view,
    zoom,
    shift,
    whole,
    choose: chooseHit,
    playhead,
    set,
    points,
    redraw: () => plot.redraw(false),
    limits: () => [plot.scales.x.min, plot.scales.x.max],
  };
})();
