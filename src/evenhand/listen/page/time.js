/* Beats and bars: where a time lies in the music. */
import { lowest, now } from "./model.js";

/* The beat that sounds at a time, as an index into the beats. */
function beatAt(ms) {
  const beats = now.all.beats.ms;
  return Math.max(0, lowest(beats.length, (index) => beats[index], ms + 1e-6) - 1);
}

/* Length of a beat in ms; the last is as long as the one before. */
function beatLength(index) {
  const beats = now.all.beats.ms;
  if (beats.length < 2) return 500;
  const here = Math.min(index, beats.length - 2);
  return beats[here + 1] - beats[here];
}

/* The first beat of the bar of a beat. */
function barOf(beat) {
  let first = beat;
  while (first > 0 && !now.all.beats.first[first]) first -= 1;
  return first;
}

/* Bar and beat at a time, in words: `17:4.5`. */
function placeAt(ms) {
  const { beats } = now.all;
  if (!beats.ms.length) return "1:1";
  const index = beatAt(ms);
  const part = Math.max(0, Math.min(0.999, (ms - beats.ms[index]) / beatLength(index)));
  const beat = index - barOf(index) + 1 + Math.floor(part * 100) / 100;
  return `${beats.bar[index]}:${Number(beat.toFixed(2))}`;
}

/* When the bar begins that is `bars` bars before the one at a time. */
function barsBefore(ms, bars) {
  const { beats } = now.all;
  let index = beatAt(ms);
  let left = bars;
  while (index > 0 && !(beats.first[index] && left === 0)) {
    if (beats.first[index]) left -= 1;
    index -= 1;
  }
  return beats.ms.length ? beats.ms[index] : 0;
}

const starts = { of: null, list: [] };

/* Where each bar begins, and its number. */
function barStarts() {
  const { beats } = now.all;
  if (starts.of !== beats) {
    starts.of = beats;
    starts.list = [];
    beats.ms.forEach((ms, index) => {
      if (beats.first[index]) starts.list.push([ms, beats.bar[index]]);
    });
  }
  return starts.list;
}

/* The bar at a time, as an index into those of `barStarts`. */
function barAt(ms) {
  const bars = barStarts();
  return Math.max(0, lowest(bars.length, (index) => bars[index][0], ms + 1e-6) - 1);
}

/* When a bar of `barStarts` begins; behind the last, when all ends. */
const barMs = (index) => barStarts()[Math.max(0, index)]?.[0] ?? now.all.end_ms;

export { barAt, barMs, barOf, barStarts, barsBefore, beatAt, beatLength, placeAt };
