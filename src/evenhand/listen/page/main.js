/* Puts the parts together: one page, made whole in a file or served live. */
import { all as embedded } from "../web/data.js";
import { onRecolour } from "../web/colours.js";
import { one, soon, write } from "../web/dom.js";
import * as Chart from "./chart.js";
import * as Controls from "./controls.js";
import * as Decisions from "./decisions.js";
import * as Desk from "./desk.js";
import * as Fields from "./fields.js";
import * as Gestures from "./gestures.js";
import * as Hit from "./hit.js";
import * as Keys from "./keys.js";
import * as List from "./list.js";
import { Line } from "./live.js";
import * as Model from "./model.js";
import * as Pace from "./pace.js";
import { isDone, places } from "./places.js";
import { Player } from "./player.js";
import * as Saving from "./saving.js";
import * as Strip from "./strip.js";
import * as Tables from "./tables.js";
import * as Time from "./time.js";
import * as Words from "./words.js";

const { now } = Model;
const page = { player: null, line: null, side: "" };

/* How often the place is told while it plays: as often as the screen is drawn, but no live region. */
function follow() {
  const { player } = page;
  const at = player.position();
  // While it plays, whole beats: more nobody could read.
  const place = Time.placeAt(at);
  write(one("place"), player.playing ? place.split(".")[0] : place);
  Chart.playhead(at, player.playing && one("follow").checked);
  Strip.follow(at);
  const side = player.sideNow();
  if (side !== page.side) {
    page.side = side;
    Controls.show();
    Chart.set({ side });
  }
}

function frame() {
  if (!page.player.playing) return;
  follow();
  requestAnimationFrame(frame);
}

function shown() {
  Controls.show();
  follow();
  if (page.player.playing) requestAnimationFrame(frame);
}

const toggle = () => (page.player.playing ? page.player.pause() : page.player.play());

/* Choose a hit: its ring, its story, its tools. */
function choose(index) {
  Chart.choose(index);
  Hit.choose(Chart.hitOf(index));
  if (!page.player.playing) {
    page.player.at = now.hits.before[Chart.hitOf(index)];
    follow();
  }
}

const chooseHit = (hit) => choose(Chart.indexOf(hit));

function playHit(hit) {
  Controls.playFrom(now.hits[page.player.sideNow()][hit]);
}

/* A place of the list: shown close up, played from two bars ahead, over and over. */
function playPlace(item) {
  Controls.playAround(item.ms);
  const [from, to] = page.player.loop;
  Chart.show(from - 200, to + 200);
  chooseHit(item.hit);
}

function say(name) {
  const item = List.current();
  if (!item) {
    List.step(1);
    return;
  }
  const mark = (as) => ({ ...item, op: "mark", as: item.as === as ? null : as });
  if (name === "right" || name === "waits") {
    Decisions.decide(mark(name));
    List.draw();
    if (item.as !== name) List.step(1);
    return;
  }
  if (name === "left") {
    const on = !Hit.isHeld(item.hit);
    const held = { op: "hold", at: now.hits.at[item.hit], on };
    const said = { ...item, op: "mark", as: on ? "left" : null };
    Decisions.decide({ op: "several", ops: [held, said] });
  } else {
    const nudged = Hit.nudgeBy(item.hit, name === "earlier" ? -1 : 1);
    const said = { ...item, op: "mark", as: nudged.ms ? "nudged" : null };
    Decisions.decide({ op: "several", ops: [nudged, said] });
  }
}

/* What the chart, the strip and the lists show of the decisions. */
const showDecisions = soon(() => {
  List.draw();
  Fields.refresh();
  Hit.show();
  Saving.show();
  Chart.set({
    held: Hit.heldStretches(),
    nudged: Hit.nudgedHits(),
    flags: places().map((item) => ({ ms: item.ms, key: item.key, done: isDone(item) })),
  });
  Strip.draw();
});

const KEYS = [
  { key: " ", shown: "Space", what: "play, pause", call: toggle },
  { key: "n", shown: "N", what: "next place to hear", call: () => List.step(1) },
  { key: "p", shown: "P", what: "previous place", call: () => List.step(-1) },
  ...List.SAY.map(({ name, letter, text }) => ({
    key: letter.toLowerCase(),
    shown: letter,
    what: `of the place: ${text.toLowerCase()}`,
    call: () => say(name),
  })),
  { key: "b", shown: "B", what: "hear before, hear after", call: () => swap() },
  ...["1", "2", "3"].map((key, index) => ({
    key,
    shown: key,
    what: `hear ${["before", "what was put aside", "after"][index]}`,
    call: () => Controls.hear(["before", "slot", "after"][index]),
  })),
  { key: "u", also: ["Ctrl+z"], shown: "U", what: "undo", call: () => Decisions.undo() },
  {
    key: "r",
    also: ["Ctrl+Shift+z", "Ctrl+y"],
    shown: "R",
    what: "redo",
    call: () => Decisions.redo(),
  },
  { key: "+", shown: "+", what: "click up by 3 dB", call: () => Controls.clickBy(3) },
  { key: "-", shown: "−", what: "click down by 3 dB", call: () => Controls.clickBy(-3) },
  { key: "h", shown: "H", what: "half speed, full speed", call: () => Controls.halve() },
  { key: "o", shown: "O", what: "loop around the place, no loop", call: () => Controls.loopHere() },
  { key: "a", shown: "A", what: "show the whole take", call: () => Chart.whole() },
];
const CHART_KEYS = [
  { shown: "← →", what: "in the chart: previous, next hit" },
  { shown: "↑ ↓", what: "in the chart: closer, wider" },
  { shown: "Enter", what: "in the chart: play from the chosen hit" },
];

const swap = () => Controls.hear(page.player.sideNow() === "before" ? "after" : "before");

function wire() {
  const on = (id, kind, call) => one(id).addEventListener(kind, call);
  on("play", "click", toggle);
  on("go-on", "click", () => List.step(1));
  on("zoom-in", "click", () => Chart.zoom(0.5));
  on("zoom-out", "click", () => Chart.zoom(2));
  on("zoom-all", "click", () => Chart.whole());
  on("earlier", "click", () => Chart.shift(-0.5));
  on("later", "click", () => Chart.shift(0.5));
  on("worst", "click", () => {
    const bar = Strip.worst();
    Controls.playAround(Time.barMs(bar) + 1);
    Chart.show(...page.player.loop);
  });
  on("show-carried", "change", () => Chart.set({ carried: one("show-carried").checked }));
  on("undo", "click", () => Decisions.undo());
  on("redo", "click", () => Decisions.redo());
  Gestures.listen(one("chart"), {
    choose,
    play: (index) => {
      choose(index);
      playHit(Chart.hitOf(index));
    },
    flag: List.go,
    nudge: (hit, ms) => Decisions.decide(Hit.nudgeBy(hit, ms)),
    canNudge: () => page.player.sideNow() === "after",
  });
  onRecolour(() => {
    Chart.redraw();
    Pace.redraw();
    Strip.draw();
    Tables.recolour();
  });
}

/* Make the page, once its data are there. */
function make() {
  Tables.head();
  if (!now.hits) {
    Tables.empty();
    return;
  }
  page.player = new Player(shown);
  Strip.start(one("strip"), {
    play: (from, to) => {
      Controls.playFrom(from);
      Chart.show(from - (to - from), to + 2 * (to - from));
    },
    look: (from, to) => {
      if (!page.player.playing) page.player.at = from;
      follow();
      Chart.show(from - (to - from), to + 2 * (to - from));
    },
    loop: (bars) => {
      Controls.loopBars(bars);
      Chart.show(...bars);
      if (!page.player.playing) page.player.play(bars[0]);
    },
  });
  Chart.make(one("chart"), follow);
  Pace.make(one("pace"), Controls.playFrom);
  Controls.start(page.player);
  List.start({ play: playPlace, say });
  Fields.start();
  Hit.start({ play: playHit });
  Tables.start(
    (section) => Controls.playFrom(section.from_ms),
    (from) => {
      Controls.playAround(from);
      Chart.show(...page.player.loop);
    },
    (piece, value) => {
      page.player.levels.pieces[piece] = value;
      page.player.setLevels();
    },
  );
  Keys.listen(KEYS, CHART_KEYS);
  Saving.start(page.line);
  wire();
  showDecisions();
  Decisions.onDecision(showDecisions);
  Model.onChange((names) => {
    if (names.has("hits") || names.has("beats")) Strip.redraw();
    if (names.has("flags")) showDecisions();
    Hit.show();
  });
  shown();
  document.body.dataset.ready = "true";
}

/* The samples come after everything else: the page is there before it can be heard. */
async function samples() {
  for (;;) {
    const answer = await fetch("/sounds.json").catch(() => null);
    if (answer?.ok) {
      Model.update(await answer.json());
      return;
    }
    await new Promise((go) => setTimeout(go, 1000));
  }
}

function connect() {
  page.line = new Line({
    all: (data) => {
      if (page.player || now.all) {
        // The server was away or began anew: what it has now is what counts.
        Model.update({ ...data, slot: data.slot ?? null }, (apply) => page.player.change({}, apply));
      } else {
        Model.load({ voices: [], choked: [], borrowed: [], ...data });
        Decisions.startLive(page.line);
        make();
        if (page.player) page.player.samples = samples();
      }
      Saving.tell("");
    },
    changed: (data) => {
      const sounds = "hits" in data || "slot" in data;
      Model.update(data, sounds ? (apply) => page.player.change({}, apply) : undefined);
    },
    refused: (text) => Saving.tell(text, true),
    exists: (text) => Saving.exists(text),
    kept: (text) => Saving.tell(text),
    lost: () => {
      if (now.all) Saving.tell("The server is away; trying to reach it again. Nothing is lost.", true);
    },
  });
  addEventListener("pagehide", () => page.line.bye());
  addEventListener("pageshow", (event) => event.persisted && location.reload());
}

if (embedded) {
  Model.load(embedded);
  if (now.hits) Decisions.startHere();
  make();
} else connect();

// For the console, and for tests.
globalThis.evenhand = {
  Chart,
  Controls,
  Decisions,
  Desk,
  List,
  Main: { player: () => page.player, line: () => page.line, choose: chooseHit },
  Model,
  Strip,
  Time,
  Words,
  now,
};
