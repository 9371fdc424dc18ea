/* Decisions, collected as the text of a recipe. Only what the installed evenhand accepts. */
import * as Data from "./data.js";

const supports = Data.all.supports || { section: [], defaults: [] };
const holds = new Map();
const nudges = new Map();
const sections = new Map();
const defaults = new Map();
let changed = () => {};

/* A JSON string is a TOML string, but for one control character that JSON lets stand. */
const quoted = (words) => JSON.stringify(words).replaceAll("\x7f", "\\u007f");

const number = (value) => (Number.isInteger(value) ? `${value}.0` : `${value}`);

function put(map, key, value) {
  if (value === null) map.delete(key);
  else map.set(key, value);
  changed();
}

const hold = (hit) => put(holds, Data.hits.at[hit], hit);

function nudge(hit, ms) {
  const piece = Data.word("piece", hit);
  put(nudges, `${Data.hits.at[hit]} ${piece}`, ms ? { at: Data.hits.at[hit], piece, ms } : null);
}

const setDefault = (name, value) => put(defaults, name, value);

function setSection(index, name, value) {
  const chosen = { ...sections.get(index) };
  if (value === null) delete chosen[name];
  else chosen[name] = value;
  put(sections, index, Object.keys(chosen).length ? chosen : null);
}

function defaultLines() {
  const kept = Data.all.recipe.split("\n").filter((line) => !defaults.has(line.split(" = ")[0]));
  return [...kept, ...[...defaults].map(([name, value]) => `${name} = ${number(value)}`)];
}

const settingLines = (settings) =>
  Object.entries(settings).map(([name, value]) => `${name} = ${number(value)}`);

/* The place of a section of the recipe among those of the page; -1 if it has none there. */
const placeOf = ({ name, bars }) =>
  Data.all.sections.findIndex((section) =>
    bars ? bars === `${section.first_bar}-${section.last_bar}` : name === section.name,
  );

/* The sections that the recipe had, with what was chosen for them; then those chosen anew. */
function sectionLines() {
  const lines = [];
  const had = new Set();
  for (const own of Data.all.own_sections) {
    const index = placeOf(own);
    const chosen = sections.get(index) || {};
    const kept = Object.entries(own.values).filter(([name]) => !(name in chosen));
    lines.push("", "[[section]]", ...kept.map(([name, value]) => `${name} = ${value}`));
    lines.push(...settingLines(chosen));
    had.add(index);
  }
  for (const [index, settings] of sections) {
    if (had.has(index)) continue;
    const section = Data.all.sections[index];
    lines.push("", "[[section]]", `name = ${quoted(section.name)}`);
    lines.push(`bars = "${section.first_bar}-${section.last_bar}"`, ...settingLines(settings));
  }
  return lines;
}

/* The whole recipe. */
function text() {
  const lines = [...defaultLines(), ...sectionLines()];
  const places = [...Data.all.holds, ...holds.keys()];
  for (const at of new Set(places)) lines.push("", "[[hold]]", `at = ${quoted(at)}`);
  const own = Data.all.own_nudges.filter(({ at, piece }) => !nudges.has(`${at} ${piece}`));
  for (const { at, piece, ms } of [...own, ...nudges.values()]) {
    lines.push("", "[[nudge]]", `at = ${quoted(at)}`);
    if (piece) lines.push(`piece = ${quoted(piece)}`);
    lines.push(`ms = ${number(ms)}`);
  }
  return `${lines.join("\n")}\n`;
}

/* The decisions as a list of {words, undo}. */
function list() {
  const items = [];
  for (const [name, value] of defaults) {
    items.push({ words: `whole take: ${name} ${value}`, undo: () => setDefault(name, null) });
  }
  for (const [index, settings] of sections) {
    for (const [name, value] of Object.entries(settings)) {
      const words = `${Data.all.sections[index].name}: ${name} ${value}`;
      items.push({ words, undo: () => setSection(index, name, null) });
    }
  }
  for (const at of holds.keys()) {
    items.push({ words: `${at} stays as played`, undo: () => put(holds, at, null) });
  }
  for (const [key, { at, piece, ms }] of nudges) {
    const words = `${at}, ${piece}: nudged by ${Data.signed(ms)} ms`;
    items.push({ words, undo: () => put(nudges, key, null) });
  }
  return items;
}

function onChange(call) {
  changed = call;
}

export { supports, hold, nudge, setDefault, setSection, text, list, onChange };
