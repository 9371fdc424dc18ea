/* The data of the page: read once, never changed. The other scripts ask here. */
import { all } from "../web/data.js";

const hits = all.hits;
const count = hits ? hits.before.length : 0;

/* Indices of the hits in the order in which they sound. */
function inOrder(ms) {
  return Array.from(ms.keys()).sort((one, other) => ms[one] - ms[other] || one - other);
}

const order = hits
  ? { before: inOrder(hits.before), after: inOrder(hits.after) }
  : { before: [], after: [] };

/* When the next hit on the same pair of cymbals ends each hit, ms; Infinity where none does. */
function chokedAt(side) {
  const until = new Float64Array(count).fill(Infinity);
  const choked = new Set(all.choked);
  let last = -1;
  for (const hit of order[side]) {
    if (!choked.has(hits.voice[hit])) continue;
    if (last >= 0) until[last] = hits[side][hit];
    last = hit;
  }
  return until;
}

const until = hits ? { before: chokedAt("before"), after: chokedAt("after") } : null;

/* Index of the first of some sorted things whose value is not below `value`. */
function lowest(length, valueAt, value) {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (valueAt(middle) < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/* The beat that sounds at a time, as an index into the beats. */
function beatAt(ms) {
  const beats = all.beats.ms;
  return Math.max(0, lowest(beats.length, (index) => beats[index], ms + 1e-6) - 1);
}

/* Length of a beat in ms; the last is as long as the one before. */
function beatLength(index) {
  const beats = all.beats.ms;
  if (beats.length < 2) return 500;
  const here = Math.min(index, beats.length - 2);
  return beats[here + 1] - beats[here];
}

/* Bar and beat at a time, in words: `17:4.5`. */
function placeAt(ms) {
  const beats = all.beats;
  if (!beats.ms.length) return "1:1";
  const index = beatAt(ms);
  let first = index;
  while (first > 0 && !beats.first[first]) first -= 1;
  const part = Math.max(0, Math.min(0.999, (ms - beats.ms[index]) / beatLength(index)));
  const beat = index - first + 1 + Math.floor(part * 100) / 100;
  return `${beats.bar[index]}:${Number(beat.toFixed(2))}`;
}

/* When the bar begins that is `bars` bars before the one at a time. */
function barsBefore(ms, bars) {
  const beats = all.beats;
  let index = beatAt(ms);
  let left = bars;
  while (index > 0 && !(beats.first[index] && left === 0)) {
    if (beats.first[index]) left -= 1;
    index -= 1;
  }
  return beats.ms.length ? beats.ms[index] : 0;
}

function barStarts() {
  const starts = [];
  for (let index = 0; index < all.beats.ms.length; index += 1) {
    if (all.beats.first[index]) starts.push([all.beats.ms[index], all.beats.bar[index]]);
  }
  return starts;
}

const word = (name, hit) => hits[`${name}s`][hits[name][hit]];

const signed = (value, places = 1) =>
  (value < 0 ? "−" : "+") + Math.abs(value).toFixed(places);

const sideOf = (value) => (value < 0 ? "ahead" : "behind");

function deviationWords(value) {
  const size = Math.abs(value).toFixed(1);
  return size === "0.0" ? "on its line" : `${size} ms ${sideOf(value)}`;
}

/* What happened to a hit, in a sentence. */
function story(hit) {
  const voice = all.voices[hits.voice[hit]].name;
  const zone = voice.startsWith(word("piece", hit)) ? voice : word("piece", hit);
  const moved = hits.after[hit] - hits.before[hit];
  const steps = Math.abs(moved) < 0.0005 ? "not moved" : `moved ${signed(moved)} ms`;
  const line = hits.lined[hit] ? "" : " (nearest line)";
  return (
    `Hit ${hit + 1}: ${zone}, velocity ${hits.velocity[hit]}, at ${hits.bar[hit]}:` +
    `${hits.beat[hit]}. Before: ${deviationWords(hits.deviation_before[hit])}${line}; after: ` +
    `${deviationWords(hits.deviation_after[hit])}; ${steps}. ` +
    `${word("role", hit)}, ${word("action", hit)}: ${word("reason", hit)}.`
  );
}

export {
  all,
  hits,
  count,
  order,
  until,
  lowest,
  beatAt,
  beatLength,
  placeAt,
  barsBefore,
  barStarts,
  word,
  signed,
  deviationWords,
  story,
};
