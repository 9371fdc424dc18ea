/* Sound: samples on a desk of gains, and a player that keeps a second of hits scheduled ahead. */
import * as Data from "./data.js";

const AHEAD_S = 1.2;
const EVERY_MS = 100;
const CHOKE_S = 0.01;
const factor = (db) => 10 ** (db / 20);

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

/* What hits are played through: a gain for each piece, one for the click, one for all. */
function makeDesk(context) {
  const gain = (target) => {
    const node = context.createGain();
    node.connect(target);
    return node;
  };
  const master = gain(context.destination);
  return {
    context,
    master,
    pieces: Data.hits.pieces.map(() => gain(master)),
    click: gain(master),
    voices: Data.all.voices.map((sample) => buffer(context, sample)),
    clicks: Data.all.click.map((sample) => buffer(context, sample)),
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
  const { gain, cutoff } = Data.all.touch;
  const velocity = Data.hits.velocity[hit];
  const level = desk.context.createGain();
  level.gain.value = gain[velocity];
  if (Number.isFinite(until)) {
    level.gain.setValueAtTime(gain[velocity], until);
    level.gain.linearRampToValueAtTime(0, until + CHOKE_S);
  }
  level.connect(desk.pieces[Data.hits.piece[hit]]);
  let target = level;
  if (cutoff[velocity] !== null) {
    target = desk.context.createBiquadFilter();
    target.type = "lowpass";
    target.Q.value = 0;
    target.frequency.value = cutoff[velocity];
    target.connect(level);
  }
  return { hit, at, source: start(desk, desk.voices[Data.hits.voice[hit]], target, at) };
}

/* All hits of one side from `from` to `to` (ms of the take), the first moment at `when` (s). */
function fill(desk, side, from, to, when, speed, skip) {
  const ms = Data.hits[side];
  const order = Data.order[side];
  const time = (value) => when + (value - from) / 1000 / speed;
  const made = [];
  let index = Data.lowest(order.length, (place) => ms[order[place]], from);
  for (; index < order.length && ms[order[index]] < to; index += 1) {
    const hit = order[index];
    if (skip && skip.has(hit)) continue;
    made.push(strike(desk, hit, time(ms[hit]), time(Data.until[side][hit])));
  }
  return made;
}

/* The click in the same stretch; `parts` to the beat, 0 for none. */
function fillClick(desk, from, to, when, speed, parts) {
  const made = [];
  if (!parts) return made;
  const beats = Data.all.beats;
  for (let beat = Data.beatAt(from); beat < beats.ms.length && beats.ms[beat] < to; beat += 1) {
    for (let part = 0; part < parts; part += 1) {
      const ms = beats.ms[beat] + (Data.beatLength(beat) * part) / parts;
      if (ms < from || ms >= to) continue;
      const sound = desk.clicks[part === 0 && beats.first[beat] ? 1 : 0];
      const at = when + (ms - from) / 1000 / speed;
      made.push({ hit: -1, at, source: start(desk, sound, desk.click, at) });
    }
  }
  return made;
}

/* Plays, pauses, switches sides. `lines` says where in the take each stretch of the context's
   time begins, and how fast it goes: {when, from, speed}; the last that has begun tells the
   place. */
class Player {
  constructor(changed) {
    this.changed = changed;
    this.desk = null;
    this.side = "after";
    this.speed = 1;
    this.loop = null;
    this.parts = 1;
    this.countIn = false;
    this.levels = { loudness: -18, click: -24, pieces: Data.hits.pieces.map(() => 0) };
    this.playing = false;
    this.at = 0;
    this.lines = [];
    this.live = [];
  }

  setLevels() {
    if (!this.desk) return;
    const set = (node, value) =>
      node.gain.setTargetAtTime(value, this.desk.context.currentTime, 0.01);
    set(this.desk.master, factor(this.levels.loudness));
    set(this.desk.click, factor(this.levels.click));
    this.desk.pieces.forEach((node, index) => {
      const level = this.levels.pieces[index];
      set(node, level === null ? 0 : factor(level));
    });
  }

  open() {
    if (!this.desk) {
      this.desk = makeDesk(new AudioContext());
      this.desk.master.gain.value = 0;
      this.setLevels();
    }
    return this.desk.context.resume();
  }

  /* Where in the take the sound is now, ms. */
  position() {
    if (!this.playing) return this.at;
    const now = this.desk.context.currentTime - (this.desk.context.outputLatency || 0);
    const line = this.lineAt(now);
    return line.from + Math.max(0, now - line.when) * 1000 * line.speed;
  }

  lineAt(now) {
    return this.lines.findLast((line) => line.when <= now) || this.lines[0];
  }

  async play(from = this.at) {
    this.stop();
    await this.open();
    this.stop();
    let begin = Math.max(0, from >= Data.all.end_ms ? 0 : from);
    if (this.loop && (begin < this.loop[0] || begin >= this.loop[1])) begin = this.loop[0];
    let when = this.desk.context.currentTime + 0.1;
    if (this.countIn) when = this.count(begin, when);
    this.at = begin;
    this.playing = true;
    this.lines = [{ when, from: begin, speed: this.speed }];
    this.cursor = { when, from: begin };
    this.end = null;
    this.tick();
    this.timer = setInterval(() => this.tick(), EVERY_MS);
    this.changed();
  }

  /* A bar of clicks before `begin`; says when the take itself starts. */
  count(begin, when) {
    const beat = Data.beatAt(begin);
    const gap = Data.beatLength(beat) / 1000 / this.speed;
    let beats = 1;
    const { first } = Data.all.beats;
    let bar = beat;
    while (bar > 0 && !first[bar]) bar -= 1;
    while (bar + beats < first.length && !first[bar + beats]) beats += 1;
    for (let index = 0; index < beats; index += 1) {
      const at = when + index * gap;
      const sound = this.desk.clicks[index ? 0 : 1];
      this.live.push({ hit: -1, at, source: start(this.desk, sound, this.desk.click, at) });
    }
    return when + beats * gap;
  }

  /* Schedule what comes within the next moments. */
  tick(skip = null) {
    const now = this.desk.context.currentTime;
    this.live = this.live.filter((item) => item.at > now - 1);
    const stop = this.loop && this.cursor.from < this.loop[1] ? this.loop[1] : Data.all.end_ms;
    while (this.end === null && this.cursor.when < now + AHEAD_S) {
      const { when, from } = this.cursor;
      const to = Math.min(stop, from + (now + AHEAD_S - when) * 1000 * this.speed);
      this.live.push(...fill(this.desk, this.side, from, to, when, this.speed, skip));
      this.live.push(...fillClick(this.desk, from, to, when, this.speed, this.parts));
      this.cursor = { when: when + (to - from) / 1000 / this.speed, from: to };
      if (to < stop) break;
      if (this.loop && stop === this.loop[1]) {
        this.cursor.from = this.loop[0];
        this.lines.push({ ...this.cursor, speed: this.speed });
      } else {
        this.end = this.cursor.when;
      }
    }
    if (this.end !== null && now >= this.end) this.pause(0);
  }

  /* Take back what is scheduled but not yet heard; hand back what was heard of late. */
  silence() {
    const now = this.desk.context.currentTime;
    const heard = new Set();
    for (const item of this.live) {
      if (item.at <= now + 0.002) heard.add(item.hit);
      else item.source.stop(0);
    }
    this.live = this.live.filter((item) => item.at <= now + 0.002);
    return heard;
  }

  stop() {
    clearInterval(this.timer);
    if (this.desk) this.silence();
    this.playing = false;
    this.lines = [];
  }

  pause(at = this.position()) {
    this.stop();
    this.at = at;
    this.changed();
  }

  /* Change something while it plays, without a gap: what was heard rings on, what was not yet
     heard is scheduled anew. */
  change(settings) {
    if (!this.playing) {
      Object.assign(this, settings);
      this.changed();
      return;
    }
    const now = this.desk.context.currentTime;
    const line = this.lineAt(now);
    const counting = now < line.when;
    const from = counting ? line.from : line.from + (now - line.when) * 1000 * line.speed;
    const when = counting ? line.when : now;
    const clicks = counting ? this.live.filter((item) => item.at < line.when) : [];
    this.live = this.live.filter((item) => !clicks.includes(item));
    const heard = this.silence();
    const lateFrom = Data.hits[this.side];
    const speed = this.speed;
    Object.assign(this, settings);
    this.live.push(...clicks);
    // The line before stays: with some latency it is still what is heard.
    this.lines = [...(counting ? [] : [line]), { when, from, speed: this.speed }];
    this.cursor = { when, from };
    this.end = null;
    // A hit that was to come on the old side, but lies behind on the new one, sounds at once.
    if (settings.side && !counting) {
      const ms = Data.hits[this.side];
      for (const hit of Data.order[this.side]) {
        if (ms[hit] >= from) break;
        if (lateFrom[hit] > from + 2 * speed && !heard.has(hit)) {
          const until = when + (Data.until[this.side][hit] - from) / 1000 / this.speed;
          this.live.push(strike(this.desk, hit, now, Math.max(until, now + 0.03)));
        }
      }
    }
    const played = Data.hits[this.side];
    this.tick(new Set([...heard].filter((hit) => hit >= 0 && played[hit] < from + 500)));
    this.changed();
  }
}

export { makeDesk, fill, fillClick, Player, factor };
