/* Sentences and tables. */
import * as Facts from "./facts.js";
import * as Shapes from "./shapes.js";
import { one } from "../web/dom.js";

const { all } = Facts;

function put(parent, tag, text, name) {
  const node = document.createElement(tag);
  if (text !== undefined) node.textContent = text;
  if (name) node.className = name;
  parent.append(node);
  return node;
}

const sentences = (id, some) => some.forEach((text) => put(one(id), "li", text));

function row(body, head, cells) {
  const line = put(body, "tr");
  put(line, "th", head).scope = "row";
  cells.forEach(([text, name]) => put(line, "td", text, name));
  return line;
}

const words = (text) => [text, "words"];
const figure = (text) => [text, ""];

const label = ({ measure, limb }) =>
  all.measures[measure].key + (limb < 0 ? "" : `, ${all.limbs[limb]}`);

function bests() {
  const body = one("bests").tBodies[0];
  for (const best of all.bests) {
    row(body, label(best), [
      words(all.groups[best.group]),
      figure(Facts.figure(best.measure, best.value)),
      figure(Facts.figure(best.measure, best.latest)),
      figure(`${best.takes}`),
      words(Facts.day(all.takes[best.take].at)),
      words(all.takes[best.take].name),
    ]);
  }
}

function limbs() {
  const spread = Facts.measureAt("spread");
  const lean = Facts.measureAt("lean");
  const body = one("limbs").tBodies[0];
  for (const course of all.courses.filter(({ measure }) => measure === spread)) {
    const leaning = all.courses.find(
      ({ measure, limb, group }) =>
        measure === lean && limb === course.limb && group === course.group,
    );
    row(body, all.limbs[course.limb], [
      words(all.groups[course.group]),
      figure(`${course.takes}`),
      figure(leaning ? Facts.signed(leaning.middle) : "–"),
      figure(Facts.number(course.middle)),
      words(course.per_month === null ? course.why_not : `${Facts.signed(course.per_month)} ms`),
    ]);
  }
}

/* The value of a measure in a take, of all anchors where it has limbs. */
function valueOf(key, limb) {
  const measure = Facts.measureAt(key);
  const values = new Map();
  for (const point of Facts.points(measure, limb, -1)) values.set(point.take, point.value);
  return { measure, get: (take) => values.get(take) };
}

const shown = (places) => (value) =>
  value === undefined || value === null ? "–" : Facts.number(value, places);

function columns() {
  const measured = (head, key, limb, places = 1) => ({
    head,
    get: valueOf(key, limb).get,
    show: shown(places),
  });
  const fact = (head, name, show) => ({
    head,
    get: (index) => all.takes[index][name],
    show,
    words: name === "at" || name === "note",
  });
  return [
    fact("played", "at", Facts.day),
    fact("bpm", "bpm", shown(1)),
    fact("spread ms", "spread", shown(1)),
    measured("stray ms", "stray", -1),
    measured("drift ms", "drift", -1),
    measured("wander", "wander", -1, 2),
    measured("evenness ms", "evenness", -1),
    measured("loudness", "timekeeper loudness", -1),
    measured("kick apart ms", "apart", all.limbs.indexOf("kick")),
    measured("snare apart ms", "apart", all.limbs.indexOf("snare")),
    fact("note", "note", (text) => text),
  ];
}

function takes() {
  const body = one("takes").tBodies[0];
  const head = one("takes").tHead.rows[0];
  const name = { head: "take", get: (index) => all.takes[index].name };
  const some = columns();
  const rows = all.takes.map((take, index) => {
    const line = row(body, take.listen ? "" : take.name, some.map(({ get, show, words: text }) =>
      text ? words(show(get(index))) : figure(show(get(index))),
    ));
    if (take.listen) put(line.cells[0], "a", take.name).href = take.listen;
    return { index, line };
  });
  [name, ...some].forEach(({ head: text, get, words: left }) => {
    const cell = put(head, "th", undefined, left ? "words" : "");
    cell.scope = "col";
    const button = put(cell, "button", text);
    button.type = "button";
    button.addEventListener("click", () => sort(head, cell, rows, get, body));
  });
}

/* Sort the rows by a column; what has no figure comes last. */
function sort(head, cell, rows, get, body) {
  const down = cell.getAttribute("aria-sort") === "ascending";
  for (const other of head.cells) other.removeAttribute("aria-sort");
  cell.setAttribute("aria-sort", down ? "descending" : "ascending");
  const none = (value) => value === undefined || value === null || value === "";
  rows.sort((first, second) => {
    const [a, b] = [get(first.index), get(second.index)];
    if (none(a) || none(b)) return none(a) - none(b) || first.index - second.index;
    if (a === b) return first.index - second.index;
    return (a < b ? -1 : 1) * (down ? -1 : 1);
  });
  body.append(...rows.map(({ line }) => line));
}

function legend(groups) {
  one("legend").replaceChildren();
  for (const group of groups) {
    const item = put(one("legend"), "li");
    const canvas = put(item, "canvas");
    canvas.width = 28;
    canvas.height = 28;
    const ctx = canvas.getContext("2d");
    ctx.fillStyle = Shapes.colourOf(group);
    Shapes.draw(ctx, group, 14, 14, 10);
    put(item, "span", all.groups[group]);
  }
}

function make() {
  one("facts").textContent = all.title;
  one("dates").textContent = `Dates: ${all.dates}.`;
  one("left-out").textContent = `${all.left_out}.`;
  one("left-out").hidden = !all.left_out;
  sentences("work", all.work.length ? all.work : ["There are too few hits to tell."]);
  sentences("trends", all.trends);
  sentences("failed", all.failed.map(([name, reason]) => `${name}: ${reason}`));
  one("failed-part").hidden = !all.failed.length;
  one("made").textContent = `Made by evenhand ${all.evenhand}.`;
  bests();
  limbs();
  takes();
}

export { legend, make };
