/* Puts the parts together: what is chosen is what the charts show. */
import * as Facts from "./facts.js";
import * as Dots from "./dots.js";
import * as Lists from "./lists.js";
import { onRecolour } from "../web/colours.js";
import { one, options } from "../web/dom.js";

const { all } = Facts;
const DAY = 86400;
const SPREAD = Facts.measureAt("spread");
const charts = {};

const chosen = (id) => Number(one(id).value);

/* The limbs that a measure has figures for. */
const limbsOf = (measure) => [
  ...new Set(all.points.filter((point) => point.measure === measure).map(({ limb }) => limb)),
].sort((first, second) => first - second);

function offerLimbs(id, measure, before) {
  const limbs = limbsOf(measure).filter((limb) => limb >= 0);
  options(one(id), limbs.map((limb) => [limb, all.limbs[limb]]));
  if (limbs.includes(before)) one(id).value = before;
  return limbs.length > 0;
}

/* From left to right; at one place, as they were played. */
const inOrder = (first, second) => first.x - second.x || first.point.take - second.point.take;

function days() {
  const measure = chosen("measure");
  const limb = one("limb-part").hidden ? -1 : chosen("limb");
  const group = chosen("group");
  const mine = Facts.points(measure, limb, group);
  const dots = mine.map((point) => ({
    x: all.takes[point.take].at,
    y: point.value,
    group: point.group,
    point,
  }));
  dots.sort(inOrder);
  const groups = [...new Set(mine.map((point) => point.group))].sort((a, b) => a - b);
  const lines = groups
    .map((each) => ({
      group: each,
      spots: Facts.dayMiddles(mine.filter((point) => point.group === each)),
    }))
    .filter(({ spots }) => spots.length > 1);
  for (const course of all.courses) {
    if (course.measure === measure && course.limb === limb && course.line) {
      if (group < 0 || group === course.group) {
        lines.push({ group: course.group, spots: course.line, sure: true });
      }
    }
  }
  const { words, unit } = all.measures[measure];
  charts.days.show(dots, lines, [], unit ? `${words}, ${unit}` : words);
  Lists.legend(groups);
}

function tempo() {
  const mine = Facts.points(SPREAD, chosen("tempo-limb"), -1);
  const dots = mine.map((point) => ({ x: point.bpm, y: point.value, group: point.group, point }));
  dots.sort(inOrder);
  // What is just noticed at the beat: 6 ms, or 2.5 % of it.
  const band = [];
  for (let bpm = 20; bpm <= 420; bpm += 5) band.push([bpm, Math.max(6, (0.025 * 60000) / bpm)]);
  charts.tempo.show(dots, [], band, "spread, ms");
}

function choose() {
  const measure = chosen("measure");
  one("limb-part").hidden = !offerLimbs("limb", measure, chosen("limb"));
  days();
}

function make() {
  Lists.make();
  const known = new Set(all.points.map((point) => point.measure));
  options(
    one("measure"),
    all.measures.map(({ words }, index) => [index, words]).filter(([index]) => known.has(index)),
  );
  options(one("group"), [[-1, "all tempi"], ...all.groups.map((text, index) => [index, text])]);
  offerLimbs("tempo-limb", SPREAD, 0);
  charts.days = Dots.make(one("days"), one("days-told"), { days: true, room: DAY / 2 });
  charts.tempo = Dots.make(one("tempo"), one("tempo-told"), { days: false, room: 5 });
  one("measure").addEventListener("change", choose);
  one("limb").addEventListener("change", days);
  one("group").addEventListener("change", days);
  one("tempo-limb").addEventListener("change", tempo);
  choose();
  tempo();
  onRecolour(() => {
    choose();
    tempo();
  });
}

make();
// For the console, and for tests.
globalThis.evenhand = { Facts, Main: { charts } };
