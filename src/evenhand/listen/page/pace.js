/* The pace of the take: how far it runs ahead or behind from bar to bar, before and after. A click
   plays from there. */
import { colour } from "../web/colours.js";
import { uPlot } from "../web/plot.js";
import { barAxis, msAxis } from "./chart.js";
import { now, onChange } from "./model.js";
import { deviationWords } from "./words.js";

const view = { plot: null, most: 10 };

function measure(place) {
  const { before, after } = now.all.pace;
  view.most = Math.ceil(Math.max(10, ...before.map(Math.abs), ...after.map(Math.abs)) * 1.15);
  const lowest = before.length ? Math.min(...before) : 0;
  const highest = before.length ? Math.max(...before) : 0;
  place.setAttribute(
    "aria-label",
    `Pace from bar to bar: before, from ${deviationWords(lowest)} to ${deviationWords(highest)}.`,
  );
}

function make(place, play) {
  const { pace } = now.all;
  measure(place);
  const line = (label, ink, dash) => ({
    label,
    stroke: () => colour(ink),
    width: 2,
    dash,
    points: { show: pace.ms.length === 1 },
  });
  const height = () => (window.innerWidth < 600 ? 150 : 180);
  view.plot = new uPlot(
    {
      width: place.clientWidth,
      height: height(),
      padding: [8, 12, 0, 0],
      legend: { show: false },
      scales: {
        x: { time: false, range: () => [0, now.all.music_ms] },
        y: { range: () => [-view.most, view.most] },
      },
      axes: [barAxis(), { ...msAxis(), space: 22 }],
      series: [{}, line("before", "--before", [6, 4]), line("after", "--after", [])],
      cursor: { show: false },
    },
    [pace.ms, pace.before, pace.after],
    place,
  );
  view.plot.over.addEventListener("click", (event) => {
    const box = view.plot.over.getBoundingClientRect();
    play(view.plot.posToVal(event.clientX - box.left, "x"));
  });
  new ResizeObserver(() =>
    view.plot.setSize({ width: place.clientWidth, height: height() }),
  ).observe(place);
  onChange((names) => {
    if (!names.has("pace")) return;
    measure(place);
    const { ms, before, after } = now.all.pace;
    view.plot.setData([ms, before, after]);
  });
}

const redraw = () => view.plot.redraw();

export { make, redraw };
