/* The marks of the main chart: where each hit stands, in columns in the order of time. */
import { lowest, now, onChange } from "./model.js";
import { familyOfPieces } from "./shapes.js";

/* What a column of the chart says of the hits, in the order in which they were played. */
const marks = { order: [], when: [], early: [], late: [], carried: [], family: [] };

/* The height of the chart has room for all anchors, but for those that are further out than so many
   times where most are: they are drawn at the edge. */
const [MOST, TIMES] = [0.95, 3];
const LEAST_MS = 25;

function column(of) {
  const values = new Float64Array(marks.order.length);
  for (let index = 0; index < values.length; index += 1) values[index] = of[marks.order[index]];
  return values;
}

/* `fresh` says whether a column of the hits is another than before. */
function read(fresh) {
  const { hits } = now;
  const another = fresh("before");
  if (another) {
    marks.order = Array.from(now.order.before);
    marks.when = column(hits.before);
  }
  const differs = (name) => another || fresh(name);
  if (differs("deviation_before")) marks.early = column(hits.deviation_before);
  if (differs("deviation_after")) marks.late = column(hits.deviation_after);
  if (differs("lined")) marks.carried = Uint8Array.from(marks.order, (hit) => (hits.lined[hit] ? 0 : 1));
  if (differs("piece") || fresh("pieces")) {
    const families = familyOfPieces();
    marks.family = Uint8Array.from(marks.order, (hit) => families[hits.piece[hit]]);
  }
}

function start() {
  read(() => true);
  onChange((names) => read((name) => names.has(`hits.${name}`)));
}

/* Half the height of the chart, ms: the anchors and the band are in it. */
function height() {
  let sizes = new Float64Array(marks.order.length);
  let count = 0;
  for (let index = 0; index < marks.order.length; index += 1) {
    if (!marks.carried[index]) {
      sizes[count] = Math.max(Math.abs(marks.early[index]), Math.abs(marks.late[index]));
      count += 1;
    }
  }
  sizes = sizes.subarray(0, count).sort();
  const usual = sizes.length ? sizes[Math.floor((sizes.length - 1) * MOST)] : 0;
  const most = Math.min(sizes.at(-1) ?? 0, TIMES * usual);
  let band = 0;
  for (const edge of [now.all.band.high, now.all.band.low]) {
    for (const ms of edge) band = Math.max(band, Math.abs(ms));
  }
  return Math.ceil(Math.max(LEAST_MS, most * 1.1, band * 1.1));
}

/* The marks between two times, as a range of indices. */
const between = (from, to) => [
  lowest(marks.when.length, (index) => marks.when[index], from),
  lowest(marks.when.length, (index) => marks.when[index], to),
];

export { between, height, marks, start };
