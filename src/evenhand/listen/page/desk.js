/* What hits are played through: samples, a gain for each piece, one for the click, one for all. */
import { lowest, now } from "./model.js";
import { beatAt, beatLength } from "./time.js";

const CHOKE_S = 0.01;
const factor = (db) => 10 ** (db / 20);

/* The loudest that a mix can get in front of the limiter, and where that begins to bend. */
const MOST = 4;
const KNEE = 0.8;
const CEILING = 0.98;

/* A sample as the page carries it: 16-bit numbers in base64, and its peak. */
function buffer(context, sample) {
  const bytes = Uint8Array.from(atob(sample.pcm), (char) => char.charCodeAt(0));
  const numbers = new DataView(bytes.buffer);
  const audio = context.createBuffer(1, Math.max(1, bytes.length / 2), sample.rate);
  const channel = audio.getChannelData(0);
  for (let index = 0; index < bytes.length / 2; index += 1) {
    channel[index] = (numbers.getInt16(2 * index, true) / 32767) * sample.peak;
  }
  return audio;
}

/* Nothing gets past full scale: what is soft goes through as it is, what is loud bends. */
function limiter(context) {
  const points = 16385;
  const room = CEILING - KNEE;
  const curve = Float32Array.from({ length: points }, (_, index) => {
    const value = ((2 * index) / (points - 1) - 1) * MOST;
    const size = Math.abs(value);
    if (size <= KNEE) return value;
    return Math.sign(value) * (KNEE + room * Math.tanh((size - KNEE) / room));
  });
  const into = context.createGain();
  into.gain.value = 1 / MOST;
  const shaper = context.createWaveShaper();
  shaper.curve = curve;
  into.connect(shaper);
  shaper.connect(context.destination);
  return into;
}

function makeDesk(context) {
  const gain = (target) => {
    const node = context.createGain();
    node.connect(target);
    return node;
  };
  const master = gain(limiter(context));
  return {
    context,
    master,
    pieces: now.hits.pieces.map(() => gain(master)),
    click: gain(master),
    tapes: { audio: gain(master), backing: gain(master) },
    voices: now.all.voices.map((sample) => buffer(context, sample)),
    clicks: now.all.click.map((sample) => buffer(context, sample)),
  };
}

function start(desk, sound, target, at) {
  const source = desk.context.createBufferSource();
  source.buffer = sound;
  source.connect(target);
  source.start(at);
  return source;
}

/* One hit; `until` is when the next hit chokes it. */
function strike(desk, hit, at, until) {
  const { gain, cutoff } = now.all.touch;
  const velocity = now.hits.velocity[hit];
  const level = desk.context.createGain();
  level.gain.value = gain[velocity];
  if (Number.isFinite(until)) {
    level.gain.setValueAtTime(gain[velocity], until);
    level.gain.linearRampToValueAtTime(0, until + CHOKE_S);
  }
  level.connect(desk.pieces[now.hits.piece[hit]]);
  let target = level;
  if (cutoff[velocity] !== null) {
    target = desk.context.createBiquadFilter();
    target.type = "lowpass";
    target.Q.value = 0;
    target.frequency.value = cutoff[velocity];
    target.connect(level);
  }
  return { hit, at, source: start(desk, desk.voices[now.hits.voice[hit]], target, at) };
}

/* All hits of one side from `from` to `to` (ms of the take), the first moment at `when` (s). */
function fill(desk, side, from, to, when, speed, skip) {
  const ms = now.hits[side];
  const order = now.order[side];
  const time = (value) => when + (value - from) / 1000 / speed;
  const made = [];
  let index = lowest(order.length, (place) => ms[order[place]], from);
  for (; index < order.length && ms[order[index]] < to; index += 1) {
    const hit = order[index];
    if (skip && skip.has(hit)) continue;
    made.push(strike(desk, hit, time(ms[hit]), time(now.until[side][hit])));
  }
  return made;
}

/* The click in the same stretch; `parts` to the beat, 0 for none. */
function fillClick(desk, from, to, when, speed, parts) {
  const made = [];
  if (!parts) return made;
  const { beats } = now.all;
  for (let beat = beatAt(from); beat < beats.ms.length && beats.ms[beat] < to; beat += 1) {
    for (let part = 0; part < parts; part += 1) {
      const ms = beats.ms[beat] + (beatLength(beat) * part) / parts;
      if (ms < from || ms >= to) continue;
      const sound = desk.clicks[part === 0 && beats.first[beat] ? 1 : 0];
      const at = when + (ms - from) / 1000 / speed;
      made.push({ hit: -1, at, source: start(desk, sound, desk.click, at) });
    }
  }
  return made;
}

/* A recording from `from` to `to`; the take begins in it at `offset` ms. */
function runTape(desk, tape, offset, from, to, when, speed, target) {
  const source = desk.context.createBufferSource();
  source.buffer = tape;
  source.playbackRate.value = speed;
  source.connect(target);
  const begin = (from + offset) / 1000;
  const late = Math.max(0, -begin);
  source.start(when + late / speed, Math.max(0, begin), Math.max(0, (to - from) / 1000 - late));
  return source;
}

export { factor, fill, fillClick, makeDesk, runTape, start, strike };
