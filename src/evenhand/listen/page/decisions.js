/* What was decided: settings, holds, nudges, and what was said of the places to listen to. A page
   of one file keeps them itself, and remembers them; a live page asks its server. Both know the same
   changes, those of docs/review-protocol.md. */
import { now, onChange } from "./model.js";

const HELD_BACK = 300;

const self = { own: null, marks: [], past: [], future: [], live: null, calls: [], kept: true };

const changedHere = () => self.calls.forEach((call) => call());

const onDecision = (call) => self.calls.push(call);

const own = () => (self.live ? now.all.own : self.own);

const marks = () => (self.live ? now.all.marks : self.marks);

const steps = () => (self.live ? now.all.steps : [self.past.length, self.future.length]);

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

/* The table of a section in a recipe: by name and bars. */
const isFor = (section) => (table) =>
  (table.name ?? "") === (section.name ?? "") && (table.bars ?? "") === (section.bars ?? "");

function withSetting(table, name, value) {
  const rest = Object.fromEntries(Object.entries(table).filter(([key]) => key !== name));
  return value === null ? rest : { ...rest, [name]: value };
}

const CHANGES = {
  set(state, { name, value, section }) {
    if (!section) return { ...state, defaults: withSetting(state.defaults, name, value) };
    const mine = isFor(section);
    const found = state.sections.some(mine);
    const tables = found ? state.sections : [...state.sections, { ...section }];
    const sections = tables
      .map((table) => (mine(table) ? withSetting(table, name, value) : table))
      .filter((table) => Object.keys(table).some((key) => key !== "name" && key !== "bars"));
    return { ...state, sections };
  },
  hold(state, { at, on }) {
    const rest = state.holds.filter((one) => one !== at);
    return { ...state, holds: on ? [...rest, at] : rest };
  },
  nudge(state, { at, piece = "", ms }) {
    const rest = state.nudges.filter((one) => one.at !== at || (one.piece ?? "") !== piece);
    const given = piece ? { at, piece, ms } : { at, ms };
    return { ...state, nudges: ms ? [...rest, given] : rest };
  },
  mark(state, { key, as, kind, place, text, hit, ms }) {
    const rest = state.marks.filter((one) => one.key !== key);
    const given = { key, as, kind, place, text, hit, ms };
    return { ...state, marks: as ? [...rest, given] : rest };
  },
  several: (state, { ops }) => ops.reduce((one, change) => CHANGES[change.op](one, change), state),
};

/* Make a change; says whether it could be made at once or has to be awaited. */
function decide(change) {
  if (self.live) {
    self.live.ask(change);
    return;
  }
  const before = { ...self.own, marks: self.marks };
  const after = CHANGES[change.op](before, change);
  if (same(before, after)) return;
  self.past = [...self.past, before].slice(-HELD_BACK);
  self.future = [];
  put(after);
}

function put({ marks: said, ...rest }) {
  self.own = rest;
  self.marks = said;
  remember();
  changedHere();
}

function step(from, to) {
  if (self.live) {
    self.live.ask({ op: from === "past" ? "undo" : "redo" });
    return;
  }
  if (!self[from].length) return;
  self[to].push({ ...self.own, marks: self.marks });
  put(self[from].pop());
}

const undo = () => step("past", "future");
const redo = () => step("future", "past");

/* What a page of one file remembers, it remembers for this take and these settings. */
const nameOf = () => `evenhand ${now.all.hash}`;

function remember() {
  const decided = { from: self.from, own: self.own, marks: self.marks };
  try {
    localStorage.setItem(nameOf(), JSON.stringify(decided));
    self.kept = true;
  } catch {
    // Some browsers keep nothing for pages from the disk: then leaving the page is asked about.
    self.kept = false;
  }
}

function recall() {
  try {
    const found = JSON.parse(localStorage.getItem(nameOf()) ?? "null");
    if (!found || !same(found.from, self.from)) return;
    self.own = found.own;
    self.marks = found.marks;
  } catch {
    self.kept = false;
  }
}

/* Begin with what the recipe of the page says. */
function startHere() {
  self.from = now.all.own;
  self.own = now.all.own;
  recall();
  addEventListener("beforeunload", (event) => {
    if (!self.kept && self.past.length) event.preventDefault();
  });
}

/* Begin with a server: `live.ask` hands a change over. */
function startLive(live) {
  self.live = live;
  onChange((names) => {
    if (["own", "marks", "steps"].some((name) => names.has(name))) changedHere();
  });
}

const isLive = () => Boolean(self.live);

export { decide, isLive, marks, onDecision, own, redo, startHere, startLive, steps, undo };
