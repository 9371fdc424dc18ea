/* The chosen hit: its story, and what can be done about it. */
import { one, write } from "../web/dom.js";
import { decide, own } from "./decisions.js";
import { now } from "./model.js";
import { barAt, barMs, barOf, beatAt } from "./time.js";
import { story, word } from "./words.js";

const state = { hit: -1, calls: null };

const FURTHEST_MS = 1000;

const isHeld = (hit) => own().holds.includes(now.hits.at[hit]);

/* The nudge of a hit, as its recipe has it. */
function nudgeOf(hit) {
  const at = now.hits.at[hit];
  const piece = word("piece", hit);
  const found = own().nudges.find((each) => each.at === at && (each.piece ?? piece) === piece);
  return found ?? { at, piece, ms: 0 };
}

/* The change that nudges a hit by so many ms more. */
function nudgeBy(hit, ms) {
  const { at, piece = "", ms: before } = nudgeOf(hit);
  const wanted = Math.max(-FURTHEST_MS, Math.min(FURTHEST_MS, before + ms));
  return { op: "nudge", at, piece, ms: Math.round(wanted * 10) / 10 };
}

/* A position `bar:beat` in ms. */
function msAt(text) {
  const [bar, beat] = text.split(":").map(Number);
  const { beats } = now.all;
  const first = beats.bar.indexOf(bar);
  if (first < 0) return now.all.music_ms;
  const index = first + Math.floor(beat - 1);
  const here = beats.ms[index] ?? now.all.music_ms;
  return here + ((beats.ms[index + 1] ?? here) - here) * ((beat - 1) % 1);
}

/* What is held, as stretches of ms: whole bars, or from place to place; one place is a thin one. */
const heldStretches = () =>
  own().holds.map((text) => {
    const [from, to = from] = text.split("-");
    if (!from.includes(":")) return [msAt(`${from}:1`), msAt(`${Number(to) + 1}:1`)];
    return [msAt(from) - 30, msAt(to) + 30];
  });

function nudgedHits() {
  if (!own().nudges.length) return [];
  const places = new Map(now.hits.at.map((at, hit) => [`${at} ${word("piece", hit)}`, hit]));
  return own()
    .nudges.map(({ at, piece, hit }) => (hit ? hit - 1 : places.get(`${at} ${piece ?? ""}`)))
    .filter((hit) => hit !== undefined);
}

/* From the chosen hit to the next bar line. */
function restOfBar(hit) {
  const ms = now.hits.before[hit];
  const next = barMs(barAt(ms + 30) + 1);
  const beat = beatAt(next + 1);
  return `${now.hits.at[hit]}-${now.all.beats.bar[barOf(beat)]}:1`;
}

function show() {
  const { hit } = state;
  if (hit < 0 || hit >= now.count) return;
  const text = story(hit);
  write(one("story"), text);
  const held = isHeld(hit);
  one("hit-hold").setAttribute("aria-pressed", `${held}`);
  write(one("hit-hold"), held ? "Held: stays as played" : "Leave this one as played");
  const rest = own().holds.includes(restOfBar(hit));
  one("hit-fill").setAttribute("aria-pressed", `${rest}`);
  write(one("hit-fill"), rest ? "Fill: held to the bar's end" : "A fill from here: leave it");
  if (document.activeElement !== one("nudge-ms")) one("nudge-ms").value = `${nudgeOf(hit).ms}`;
}

function choose(hit) {
  state.hit = hit;
  one("hit-tools").hidden = false;
  show();
}

function nudgeTo() {
  const typed = one("nudge-ms").value.trim();
  const ms = Number(typed.replace(",", "."));
  const fits = typed !== "" && Number.isFinite(ms) && Math.abs(ms) <= FURTHEST_MS;
  one("nudge-told").textContent = fits ? "" : `nudge: ${typed} is not −${FURTHEST_MS} to ${FURTHEST_MS} ms`;
  if (!fits) return;
  const { at, piece = "" } = nudgeOf(state.hit);
  decide({ op: "nudge", at, piece, ms });
}

/* `calls`: {play(hit)}. */
function start(calls) {
  state.calls = calls;
  const on = (id, kind, call) => one(id).addEventListener(kind, call);
  const hold = (at, on_) => decide({ op: "hold", at, on: on_ });
  on("hit-play", "click", () => calls.play(state.hit));
  on("hit-hold", "click", () => hold(now.hits.at[state.hit], !isHeld(state.hit)));
  on("hit-fill", "click", () => {
    const at = restOfBar(state.hit);
    hold(at, !own().holds.includes(at));
  });
  on("nudge-ms", "change", nudgeTo);
  on("nudge-earlier", "click", () => decide(nudgeBy(state.hit, -1)));
  on("nudge-later", "click", () => decide(nudgeBy(state.hit, 1)));
}

export { choose, heldStretches, isHeld, nudgeBy, nudgedHits, show, start };
