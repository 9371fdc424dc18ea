/* The marks of the main chart: where each hit stands, in columns in the order of time. */
import { lowest, now, onChange } from "./model.js";
import { familyOfPieces } from "./shapes.js";

/* What a column of the chart says of the hits, in the order in which they were played. */
const marks = { order: [], when: [], early: [], late: [], carried: [], family: [] };

/* The height of the chart has room for all anchors, but for those that are further out than so many
   times where most are: they are drawn at the edge. */
const [MOST, TIMES] = [0.95, 3];
const LEAST_MS = 25;

function read() {
  const { hits } = now;
  const { order } = marks;
  const column = (of) => Float64Array.from(order, (hit) => of[hit]);
  marks.when = column(hits.before);
  marks.early = column(hits.deviation_before);
  marks.late = column(hits.deviation_after);
  marks.carried = Uint8Array.from(order, (hit) => (hits.lined[hit] ? 0 : 1));
  const families = familyOfPieces();
  marks.family = Uint8Array.from(order, (hit) => families[hits.piece[hit]]);
}

function start() {
  marks.order = Array.from(now.order.before);
  read();
  onChange((names) => {
    if (!names.has("hits")) return;
    marks.order = Array.from(now.order.before);
    read();
  });
}

/* Half the height of the chart, ms: the anchors and the band are in it. */
function height() {
  const sizes = [];
  for (let index = 0; index < marks.order.length; index += 1) {
    if (!marks.carried[index]) {
      sizes.push(Math.max(Math.abs(marks.early[index]), Math.abs(marks.late[index])));
    }
  }
  sizes.sort((one, other) => one - other);
  const usual = sizes.length ? sizes[Math.floor((sizes.length - 1) * MOST)] : 0;
  const most = Math.min(sizes.at(-1) ?? 0, TIMES * usual);
  const band = Math.max(0, ...now.all.band.high.map(Math.abs), ...now.all.band.low.map(Math.abs));
  return Math.ceil(Math.max(LEAST_MS, most * 1.1, band * 1.1));
}

/* The marks between two times, as a range of indices. */
const between = (from, to) => [
  lowest(marks.when.length, (index) => marks.when[index], from),
  lowest(marks.when.length, (index) => marks.when[index], to),
];

export { between, height, marks, start };
