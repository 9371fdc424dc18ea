/* The row that stays in view: play, sides, place, loop, levels, speed. */
import { one, options, write } from "../web/dom.js";
import { now, onChange } from "./model.js";
import * as Strip from "./strip.js";
import { barAt, barMs, barStarts, barsBefore } from "./time.js";
import { shown } from "./words.js";

/* A place is heard with so much before and after it. */
const BARS_AHEAD = 2;
const BARS_AFTER = 1;

const view = { player: null, around: 0, bars: null, barsName: "bars" };

/* The bars around a place, ms. */
function around(ms) {
  const bar = barAt(ms + 1);
  return [barsBefore(ms + 1, BARS_AHEAD), barMs(bar + 1 + BARS_AFTER)];
}

function loopOf(value) {
  if (value === "here") return around(view.around);
  if (value === "bars") return view.bars;
  if (!value) return null;
  const section = now.all.sections[Number(value.split(" ")[1])];
  return section ? [section.from_ms, section.to_ms] : null;
}

/* Loop as chosen; a place outside the loop starts at its beginning. */
function setLoop(value = one("loop").value) {
  const { player } = view;
  one("loop").value = value;
  const at = player.position();
  const loop = loopOf(value);
  player.loop = loop;
  Strip.showLoop(loop);
  if (player.playing && loop && (at < loop[0] || at >= loop[1])) player.play(loop[0]);
  else player.change({ loop });
}

function loopBars(bars) {
  view.bars = bars;
  const number = (ms) => barStarts()[barAt(ms)]?.[1] ?? 1;
  view.barsName = `bars ${number(bars[0] + 1)} to ${number(bars[1] - 1)}`;
  loops();
  setLoop("bars");
}

/* Play a place from two bars ahead, over and over. */
function playAround(ms) {
  view.around = ms;
  one("loop").value = "here";
  view.player.loop = around(ms);
  Strip.showLoop(view.player.loop);
  view.player.play(view.player.loop[0]);
}

/* Play from a time on; a loop that it lies outside of ends. */
function playFrom(ms) {
  const { player } = view;
  if (player.loop && (ms < player.loop[0] || ms >= player.loop[1])) {
    one("loop").value = "";
    player.loop = null;
    Strip.showLoop(null);
  }
  player.play(ms);
}

function loops() {
  const before = one("loop").value;
  const choices = [["", "nothing"], ["here", "this place"], ["bars", view.barsName]];
  now.all.sections.forEach((section, index) => choices.push([`section ${index}`, shown(section.name)]));
  options(one("loop"), choices);
  one("loop").querySelector('[value="bars"]').hidden = !view.bars;
  one("loop").value = choices.some(([value]) => value === before) ? before : "";
}

function level(name, value) {
  view.player.levels[name] = value;
  view.player.setLevels();
  showLevels();
}

function showLevels() {
  const { levels } = view.player;
  for (const name of ["loudness", "click", "audio", "backing"]) {
    one(name).value = levels[name];
    one(`${name}-now`).textContent = `${levels[name]} dB`.replace("-", "−");
  }
}

const clickBy = (step) =>
  level("click", Math.max(-60, Math.min(0, view.player.levels.click + step)));

function halve() {
  one("speed").value = view.player.speed === 0.5 ? "1" : "0.5";
  view.player.change({ speed: Number(one("speed").value) });
}

function loopHere() {
  view.around = view.player.position();
  setLoop(one("loop").value ? "" : "here");
}

/* The sides that there are, in the order of their keys. */
const sides = () => ["before", ...(now.hits.slot ? ["slot"] : []), "after"];

function hear(side) {
  if (sides().includes(side)) view.player.change({ side });
}

function turns() {
  const on = one("turns").checked;
  view.player.turns = on ? sides() : null;
}

/* Recordings come with a live page only. */
async function tapes() {
  const offsets = now.all.sounds ?? {};
  for (const name of ["audio", "backing"]) one(`${name}-part`).hidden = !(name in offsets);
  one("tapes").hidden = !Object.keys(offsets).length;
  for (const [name, offset] of Object.entries(offsets)) {
    one(`${name}-on`).addEventListener("change", async () => {
      const wanted = one(`${name}-on`).checked;
      try {
        if (wanted && !view.player.recordings[name]) await fetchTape(name, offset);
        one("tape-told").textContent = "";
      } catch {
        one("tape-told").textContent = `The ${name} file can't be played by this browser.`;
        one(`${name}-on`).checked = false;
        return;
      }
      view.player.change(name === "audio" ? { useAudio: wanted } : { useBacking: wanted });
    });
  }
}

async function fetchTape(name, offset) {
  one("tape-told").textContent = "Reading the recording…";
  await view.player.open();
  const answer = await fetch(`/sound/${name}`);
  const audio = await view.player.desk.context.decodeAudioData(await answer.arrayBuffer());
  view.player.recordings[name] = { audio, offset };
}

function start(player) {
  view.player = player;
  const on = (id, kind, call) => one(id).addEventListener(kind, call);
  for (const side of ["before", "slot", "after"]) on(`side-${side}`, "change", () => hear(side));
  for (const name of ["loudness", "click", "audio", "backing"]) {
    on(name, "input", () => level(name, Number(one(name).value)));
  }
  on("click-on", "change", () => player.change({ parts: Number(one("click-on").value) }));
  on("speed", "change", () => player.change({ speed: Number(one("speed").value) }));
  on("loop", "change", () => {
    if (one("loop").value === "here") view.around = player.position();
    setLoop();
  });
  on("count-in", "change", () => player.change({ countIn: one("count-in").checked }));
  on("turns", "change", turns);
  loops();
  tapes();
  showLevels();
  onChange((names) => {
    if (names.has("sections")) loops();
    if (names.has("slot")) {
      if (one("turns").checked) turns();
      if (!now.hits.slot && player.side === "slot") hear("after");
    }
  });
}

/* Show what the player does. */
function show() {
  const { player } = view;
  const side = player.sideNow();
  write(one("play"), player.playing ? "Pause" : "Play");
  one(`side-${side}`).checked = true;
  one("slot-part").hidden = !now.hits.slot;
}

export {
  clickBy,
  halve,
  hear,
  loopBars,
  loopHere,
  playAround,
  playFrom,
  setLoop,
  show,
  sides,
  start,
};
