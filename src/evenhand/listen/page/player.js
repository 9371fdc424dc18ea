/* The player keeps a second of hits scheduled ahead, and changes course without a gap. */
import { factor, fill, fillClick, makeDesk, runTape, start, strike } from "./desk.js";
import { now } from "./model.js";
import { barOf, beatAt, beatLength } from "./time.js";

const AHEAD_S = 1.2;
const EVERY_MS = 100;

/* What is due within this is as good as heard, s. */
const HEARD_S = 0.002;

/* Plays, pauses, switches sides. `lines` says where in the take each stretch of the context's time
   begins, how fast it goes and which side it is: {when, from, speed, side, stop}; the last that has
   begun tells the place. */
class Player {
  constructor(changed) {
    this.changed = changed;
    this.context = null;
    this.desk = null;
    this.side = "after";
    this.turns = null;
    this.speed = 1;
    this.loop = null;
    this.parts = 1;
    this.countIn = false;
    this.levels = {
      loudness: -18,
      click: -32,
      audio: 0,
      backing: -6,
      pieces: now.hits.pieces.map(() => 0),
    };
    this.recordings = {};
    this.useAudio = false;
    this.useBacking = false;
    this.playing = false;
    this.at = 0;
    this.lines = [];
    this.live = [];
    this.tapes = [];
    this.samples = null;
  }

  setLevels() {
    if (!this.desk) return;
    const set = (node, value) =>
      node.gain.setTargetAtTime(value, this.desk.context.currentTime, 0.01);
    set(this.desk.master, factor(this.levels.loudness));
    set(this.desk.click, factor(this.levels.click));
    set(this.desk.tapes.audio, factor(this.levels.audio));
    set(this.desk.tapes.backing, factor(this.levels.backing));
    this.desk.pieces.forEach((node, index) => {
      const level = this.levels.pieces[index];
      set(node, level === null ? 0 : factor(level));
    });
  }

  async open() {
    // At once, while the page may: some browsers let sound begin only right after a click.
    this.context ??= new AudioContext();
    const running = this.context.resume();
    await this.samples;
    if (!this.desk) {
      this.desk = makeDesk(this.context);
      this.desk.master.gain.value = 0;
      this.setLevels();
    }
    await running;
  }

  /* Where in the take the sound is now, ms. */
  position() {
    if (!this.playing) return this.at;
    const heard = this.desk.context.currentTime - (this.desk.context.outputLatency || 0);
    const line = this.lineAt(heard);
    return line.from + Math.max(0, heard - line.when) * 1000 * line.speed;
  }

  /* The side that is heard now: a loop may take turns. */
  sideNow() {
    return this.playing ? this.lineAt(this.desk.context.currentTime).side : this.side;
  }

  lineAt(time) {
    return this.lines.findLast((line) => line.when <= time) || this.lines[0];
  }

  async play(from = this.at) {
    this.stop();
    await this.open();
    this.stop();
    let begin = Math.max(0, from >= now.all.end_ms ? 0 : from);
    if (this.loop && (begin < this.loop[0] || begin >= this.loop[1])) begin = this.loop[0];
    let when = this.desk.context.currentTime + 0.1;
    if (this.countIn) when = this.count(begin, when);
    this.at = begin;
    this.playing = true;
    this.lines = [];
    this.begin(when, begin);
    this.tick();
    this.timer = setInterval(() => this.tick(), EVERY_MS);
    this.changed();
  }

  /* A new line of sound from `when` on, with the recordings that go with it. */
  begin(when, from) {
    const stop = this.loop && from < this.loop[1] ? this.loop[1] : now.all.end_ms;
    this.lines.push({ when, from, speed: this.speed, side: this.side, stop });
    this.cursor = { when, from };
    this.end = null;
    const wanted = { audio: this.onTape(), backing: this.useBacking };
    for (const [name, tape] of Object.entries(this.recordings)) {
      if (!wanted[name]) continue;
      const { audio, offset } = tape;
      const target = this.desk.tapes[name];
      const source = runTape(this.desk, audio, offset, from, stop, when, this.speed, target);
      this.tapes.push({ source, when });
    }
  }

  /* Whether the recording of the take is heard instead of samples. */
  onTape() {
    return this.useAudio && this.side === "before" && Boolean(this.recordings.audio);
  }

  /* A bar of clicks before `begin`; says when the take itself starts. */
  count(begin, when) {
    const beat = beatAt(begin);
    const gap = beatLength(beat) / 1000 / this.speed;
    const { first } = now.all.beats;
    const bar = barOf(beat);
    let beats = 1;
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
    const time = this.desk.context.currentTime;
    this.live = this.live.filter((item) => item.at > time - 1);
    while (this.end === null && this.cursor.when < time + AHEAD_S) {
      const { when, from } = this.cursor;
      const { stop } = this.lines.at(-1);
      const to = Math.min(stop, from + (time + AHEAD_S - when) * 1000 * this.speed);
      if (!this.onTape()) {
        this.live.push(...fill(this.desk, this.side, from, to, when, this.speed, skip));
      }
      this.live.push(...fillClick(this.desk, from, to, when, this.speed, this.parts));
      this.cursor = { when: when + (to - from) / 1000 / this.speed, from: to };
      if (to < stop) break;
      if (this.loop && stop === this.loop[1]) {
        if (this.turns) this.side = this.turns[(this.turns.indexOf(this.side) + 1) % this.turns.length];
        this.begin(this.cursor.when, this.loop[0]);
      } else {
        this.end = this.cursor.when;
      }
    }
    if (this.end !== null && time >= this.end) this.pause(0);
  }

  /* Take back what is scheduled but not yet heard; hand back what was heard of late. */
  silence() {
    const time = this.desk.context.currentTime;
    const heard = new Set();
    for (const item of this.live) {
      if (item.at <= time + HEARD_S) heard.add(item.hit);
      else item.source.stop(0);
    }
    this.live = this.live.filter((item) => item.at <= time + HEARD_S);
    for (const { source } of this.tapes) source.stop(0);
    this.tapes = [];
    return heard;
  }

  stop() {
    clearInterval(this.timer);
    if (this.desk) this.silence();
    this.playing = false;
    this.lines = [];
  }

  pause(at = this.position()) {
    const side = this.sideNow();
    this.stop();
    this.side = side;
    this.at = at;
    this.changed();
  }

  /* Change something while it plays, without a gap: what was heard rings on, what was not yet heard
     is scheduled anew. `apply` may change the hits themselves. */
  change(settings, apply = () => {}) {
    if (!this.playing) {
      Object.assign(this, settings);
      apply();
      this.changed();
      return;
    }
    const time = this.desk.context.currentTime;
    const line = this.lineAt(time);
    const counting = time < line.when;
    const from = counting ? line.from : line.from + (time - line.when) * 1000 * line.speed;
    const when = counting ? line.when : time;
    const clicks = counting ? this.live.filter((item) => item.at < line.when) : [];
    this.live = this.live.filter((item) => !clicks.includes(item));
    const heard = this.silence();
    const lateFrom = now.hits[line.side];
    this.side = line.side;
    const onTape = this.onTape();
    Object.assign(this, settings);
    apply();
    this.live.push(...clicks);
    // The line before stays: with some latency it is still what is heard.
    this.lines = counting ? [] : [line];
    this.begin(when, from);
    const ms = now.hits[this.side];
    // A hit that was to come, but lies behind as things are now, sounds at once.
    if (ms !== lateFrom && !counting && !onTape && !this.onTape()) {
      this.catchUp(lateFrom, from, time, when, line.speed, heard);
    }
    this.tick(new Set([...heard].filter((hit) => hit >= 0 && ms[hit] < from + 500)));
    this.changed();
  }

  catchUp(lateFrom, from, time, when, speed, heard) {
    const ms = now.hits[this.side];
    for (const hit of now.order[this.side]) {
      if (ms[hit] >= from) break;
      if (lateFrom[hit] > from + 1000 * HEARD_S * speed && !heard.has(hit)) {
        const until = when + (now.until[this.side][hit] - from) / 1000 / this.speed;
        this.live.push(strike(this.desk, hit, time, Math.max(until, time + 0.03)));
      }
    }
  }
}

export { Player };
