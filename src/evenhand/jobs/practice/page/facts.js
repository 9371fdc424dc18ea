/* What is known: the data of the page, and figures in words. */
import { all } from "../web/data.js";

const MINUS = "−";

const measureAt = (key) => all.measures.findIndex((measure) => measure.key === key);

const number = (value, places = 1) => value.toFixed(places).replace("-", MINUS);

const signed = (value, places = 1) =>
  value > 0 ? `+${number(value, places)}` : number(value, places);

/* A figure with its unit; exponents have none and want two places. */
function figure(measure, value) {
  const { unit } = all.measures[measure];
  return unit ? `${number(value)} ${unit}` : number(value, 2);
}

/* Seconds since 1970 as a day, with the time if there is one. */
function day(seconds) {
  const text = new Date(seconds * 1000).toISOString();
  return text.slice(11, 16) === "00:00" ? text.slice(0, 10) : text.slice(0, 16).replace("T", " ");
}

const dayOf = (seconds) => Math.floor(seconds / 86400) * 86400;

/* The points of one measure and limb; -1 stands for any group. */
const points = (measure, limb, group) =>
  all.points.filter(
    (point) =>
      point.measure === measure && point.limb === limb && (group < 0 || point.group === group),
  );

function middle(values) {
  const ranked = [...values].sort((one, other) => one - other);
  const half = ranked.length >> 1;
  return ranked.length % 2 ? ranked[half] : (ranked[half - 1] + ranked[half]) / 2;
}

/* The middle of each day, in order: [second, value]. */
function dayMiddles(mine) {
  const days = new Map();
  for (const { take, value } of mine) {
    const at = dayOf(all.takes[take].at);
    days.set(at, [...(days.get(at) ?? []), value]);
  }
  return [...days].sort(([one], [other]) => one - other).map(([at, some]) => [at, middle(some)]);
}

function story(point) {
  const take = all.takes[point.take];
  const { key } = all.measures[point.measure];
  const limb = point.limb < 0 ? "" : ` of ${all.limbs[point.limb]}`;
  const note = take.note ? `; ${take.note}` : "";
  return (
    `${take.name}, ${day(take.at)} (${take.from}): ${key}${limb} ` +
    `${figure(point.measure, point.value)} at ${number(point.bpm)} bpm${note}.`
  );
}

export { all, measureAt, number, signed, figure, day, dayOf, points, dayMiddles, story };
