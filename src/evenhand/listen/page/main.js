/* Puts the parts together: controls, keys, and what follows the sound on the screen. */
import * as Data from "./data.js";
import * as Sound from "./sound.js";
import * as Recipe from "./recipe.js";
import * as Chart from "./chart.js";
import * as Pace from "./pace.js";
import * as Lists from "./lists.js";
import { onRecolour } from "../web/colours.js";
import { one } from "../web/dom.js";

const BARS_AHEAD = 2;
let player = null;
let flag = -1;
let chosen = -1;

function shown() {
  one("play").textContent = player.playing ? "Pause" : "Play";
  one(`side-${player.side}`).checked = true;
  one("loudness-now").textContent = `${player.levels.loudness} dB`;
  one("click-now").textContent = `${player.levels.click} dB`;
  one("loudness").value = player.levels.loudness;
  one("click").value = player.levels.click;
  follow();
  if (player.playing) requestAnimationFrame(frame);
}

function follow() {
  const at = player.position();
  one("place").textContent = Data.placeAt(at);
  Chart.playhead(at, player.playing && one("follow").checked);
}

function frame() {
  if (!player.playing) return;
  follow();
  requestAnimationFrame(frame);
}

const toggle = () => (player.playing ? player.pause() : player.play());

function side(name) {
  player.change({ side: name });
  Chart.set({ side: name });
}

function level(name, value) {
  player.levels[name] = value;
  player.setLevels();
  shown();
}

/* Play from the start of a bar some bars ahead of a place. */
function playAhead(ms, bars) {
  if (player.loop && (ms < player.loop[0] || ms >= player.loop[1])) {
    one("loop").value = "";
    player.loop = null;
  }
  player.play(Data.barsBefore(ms, bars));
}

function playFlag(index) {
  const { flags } = Data.all;
  if (!flags.length) return;
  flag = (index + flags.length) % flags.length;
  Lists.markFlag(flag);
  Chart.choose(flags[flag].hits[0]);
  const around = one("loop").value === "here";
  if (around) setLoop(flags[flag].ms);
  playAhead(flags[flag].ms, BARS_AHEAD);
}

function setLoop(place) {
  const value = one("loop").value;
  let loop = null;
  if (value === "here") {
    const from = Data.barsBefore(place, BARS_AHEAD);
    const bars = Data.barStarts().map(([ms]) => ms);
    const index = Data.lowest(bars.length, (bar) => bars[bar], place + 1e-6);
    loop = [from, bars[index + 1] ?? bars[index] ?? Data.all.end_ms];
  } else if (value) {
    const section = Data.all.sections[Number(value.split(" ")[1])];
    loop = [section.from_ms, section.to_ms];
  }
  // A place outside the loop starts at its beginning.
  const outside = loop && (place < loop[0] || place >= loop[1]);
  player.loop = loop;
  if (player.playing && outside) player.play(loop[0]);
  else player.change({ loop });
}

function choose(hit) {
  chosen = hit;
  one("story").textContent = Data.story(hit);
  one("hit-tools").hidden = false;
  one("nudge-tools").hidden = !Recipe.supports.nudge;
  one("hit-hold").hidden = !Recipe.supports.hold;
  if (!player.playing) {
    player.at = Data.hits[player.side][hit];
    follow();
  }
}

const KEYS = [
  { key: " ", shown: "Space", what: "play, pause", call: toggle },
  { key: "b", shown: "B", what: "hear before, hear after", call: () => swap() },
  { key: "n", shown: "N", what: "play the next flag", call: () => playFlag(flag + 1) },
  {
    key: "p",
    shown: "P",
    what: "play the previous flag",
    call: () => playFlag(flag < 0 ? -1 : flag - 1),
  },
  { key: "+", shown: "+", what: "click up by 3 dB", call: () => click(3) },
  { key: "-", shown: "-", what: "click down by 3 dB", call: () => click(-3) },
  { key: "h", shown: "H", what: "half speed, full speed", call: () => halve() },
  { key: "l", shown: "L", what: "loop around the place, no loop", call: () => loopHere() },
  { key: "a", shown: "A", what: "show the whole take", call: () => Chart.whole() },
];
const CHART_KEYS = [
  { shown: "← →", what: "in the chart: previous, next hit" },
  { shown: "↑ ↓", what: "in the chart: closer, wider" },
  { shown: "Enter", what: "in the chart: play from the chosen hit" },
];

const swap = () => side(player.side === "after" ? "before" : "after");

const click = (step) =>
  level("click", Math.max(-60, Math.min(0, player.levels.click + step)));

function halve() {
  one("speed").value = player.speed === 0.5 ? "1" : "0.5";
  player.change({ speed: Number(one("speed").value) });
}

function loopHere() {
  one("loop").value = one("loop").value ? "" : "here";
  setLoop(player.position());
}

function onKey(event) {
  const target = event.target;
  const fields = ["INPUT", "SELECT", "TEXTAREA"];
  const typing = fields.includes(target.tagName) && !["radio", "checkbox"].includes(target.type);
  // Space works a control that was reached by keyboard, and the sound otherwise.
  const works = target.matches("button, summary, input, a") && target.matches(":focus-visible");
  if (event.ctrlKey || event.metaKey || event.altKey || typing) return;
  if (!one("use-keys").checked) return;
  if (event.key === " " && works) return;
  const found = KEYS.find(({ key }) => key === event.key.toLowerCase());
  if (!found) return;
  event.preventDefault();
  found.call();
}

function wire() {
  const on = (id, kind, call) => one(id).addEventListener(kind, call);
  on("play", "click", toggle);
  on("side-before", "change", () => side("before"));
  on("side-after", "change", () => side("after"));
  on("flag-on", "click", () => playFlag(flag + 1));
  on("flag-back", "click", () => playFlag(flag < 0 ? -1 : flag - 1));
  on("loudness", "input", () => level("loudness", Number(one("loudness").value)));
  on("click", "input", () => level("click", Number(one("click").value)));
  on("click-on", "change", () => player.change({ parts: Number(one("click-on").value) }));
  on("speed", "change", () => player.change({ speed: Number(one("speed").value) }));
  on("loop", "change", () => setLoop(player.position()));
  on("count-in", "change", () => player.change({ countIn: one("count-in").checked }));
  on("zoom-in", "click", () => Chart.zoom(0.5));
  on("zoom-out", "click", () => Chart.zoom(2));
  on("zoom-all", "click", () => Chart.whole());
  on("earlier", "click", () => Chart.shift(-0.5));
  on("later", "click", () => Chart.shift(0.5));
  on("show-carried", "change", () => Chart.set({ carried: one("show-carried").checked }));
  on("hit-play", "click", () => player.play(Data.hits[player.side][chosen]));
  on("hit-hold", "click", () => Recipe.hold(chosen));
  on("hit-nudge", "click", () => Recipe.nudge(chosen, Number(one("nudge-ms").value) || 0));
  on("copy", "click", copy);
  on("save", "click", save);
  document.addEventListener("keydown", onKey);
  onRecolour(recolour);
}

function recolour() {
  Chart.redraw();
  Pace.redraw();
  Lists.recolour();
}

async function copy() {
  try {
    await navigator.clipboard.writeText(Recipe.text());
    one("told").textContent = "Copied.";
  } catch {
    // A page from the disk may not be allowed to: leave the text marked instead.
    one("recipe").select();
    one("told").textContent = "Marked: press Ctrl+C to copy.";
  }
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([Recipe.text()], { type: "application/toml" }));
  link.download = Data.all.command.recipe_file;
  link.click();
  URL.revokeObjectURL(link.href);
  one("told").textContent = `Saved as ${link.download}.`;
}

function start() {
  Lists.head();
  if (!Data.hits) {
    Lists.empty();
    return;
  }
  player = new Sound.Player(shown);
  Chart.make(one("chart"), {
    choose,
    play: (hit) => player.play(Data.hits[player.side][hit]),
    scaled: follow,
  });
  Pace.make(one("pace"));
  Lists.legend();
  Lists.flags(playFlag);
  Lists.sections((section) => playAhead(section.from_ms, 0));
  Lists.spread();
  Lists.kept();
  Lists.takeSettings();
  Lists.levels((piece, value) => {
    player.levels.pieces[piece] = value;
    player.setLevels();
  });
  Lists.keys([...KEYS, ...CHART_KEYS]);
  Recipe.onChange(Lists.decisions);
  Lists.decisions();
  one("command").textContent = Data.all.command.text;
  wire();
  shown();
}

start();
// For the console, and for tests.
const Main = { player: () => player, flag: () => flag };
globalThis.evenhand = { Chart, Data, Main, Recipe, Sound };
