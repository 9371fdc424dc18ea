/* The pace of the take: how far it runs ahead or behind from bar to bar, before and after. */
import * as Data from "./data.js";
import * as Chart from "./chart.js";
import { colour } from "../web/colours.js";
import { uPlot } from "../web/plot.js";

let plot = null;

function make(place) {
  const { ms, before, after } = Data.all.pace;
  const most = Math.ceil(Math.max(10, ...before.map(Math.abs), ...after.map(Math.abs)) * 1.15);
  const line = (label, ink, dash) => ({
    label,
    stroke: () => colour(ink),
    width: 2,
    dash,
    points: { show: ms.length === 1 },
  });
  const height = () => (window.innerWidth < 600 ? 150 : 180);
  plot = new uPlot(
    {
      width: place.clientWidth,
      height: height(),
      padding: [8, 12, 0, 0],
      legend: { show: false },
      scales: {
        x: { time: false, range: [0, Data.all.end_ms] },
        y: { range: [-most, most] },
      },
      axes: [Chart.barAxis(), { ...Chart.msAxis(), space: 22 }],
      series: [{}, line("before", "--before", [6, 4]), line("after", "--after", [])],
      cursor: { show: false },
    },
    [ms, before, after],
    place,
  );
  const lowest = before.length ? Math.min(...before) : 0;
  const highest = before.length ? Math.max(...before) : 0;
  place.setAttribute(
    "aria-label",
    `Pace from bar to bar: before, from ${Data.deviationWords(lowest)} to ` +
      `${Data.deviationWords(highest)}.`,
  );
  new ResizeObserver(() => plot.setSize({ width: place.clientWidth, height: height() })).observe(
    place,
  );
}

const redraw = () => plot.redraw();

export { make, redraw };
