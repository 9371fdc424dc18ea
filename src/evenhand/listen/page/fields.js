/* Settings, one to a line with what it means, for the whole take or for a section. Each says its
   range, and refuses by name what lies outside. */
import { button, make, one, options } from "../web/dom.js";
import { decide, own } from "./decisions.js";
import { now } from "./model.js";
import { shown } from "./words.js";

const view = { section: -1, gesture: 0, nodes: [] };

/* The table of the recipe that speaks of a section of the page, and how it is named there. */
function tableOf(index) {
  const section = now.all.sections[index];
  const bars = `${section.first_bar}-${section.last_bar}`;
  const found = own().sections.find((table) =>
    table.bars ? table.bars === bars : table.name === section.name,
  );
  return found ?? { name: section.name, bars };
}

const sectionKey = ({ name, bars }) => ({ ...(name ? { name } : {}), ...(bars ? { bars } : {}) });

/* What holds now: of the section, of the take, by default. */
function valueOf({ name, default: usual }) {
  const take = own().defaults[name] ?? usual;
  return (view.section < 0 ? take : (tableOf(view.section)[name] ?? take)) ?? "";
}

const isOwn = ({ name }) =>
  view.section < 0 ? name in own().defaults : name in tableOf(view.section);

const nameOf = ({ name }) => name.replaceAll("_", " ");

function put({ name }, value, gesture) {
  const change = { op: "set", name, value };
  if (gesture) change.gesture = gesture;
  if (view.section >= 0) change.section = sectionKey(tableOf(view.section));
  decide(change);
}

function rangeWords({ low, high, unit, choices }) {
  const ends = high === null ? `${low} or more` : `${low} to ${high}`;
  return [`${ends} ${unit}`.trim(), ...choices].join(", or ");
}

/* A number as it was typed; throws what to say if it is none, or outside its range. */
function read(field, text) {
  const typed = text.trim();
  if (typed === "") return null;
  if (field.choices.includes(typed)) return typed;
  const number = Number(typed.replace(",", ".").replace("−", "-"));
  if (!(number >= field.low && number <= (field.high ?? Infinity))) {
    throw new RangeError(`${nameOf(field)}: ${typed} is not ${rangeWords(field)}`);
  }
  return field.whole ? Math.round(number) : number;
}

function numberField(field, told) {
  const box = make("span", "", { class: "gap" });
  const typed = make("input", "", {
    type: "text",
    inputmode: "decimal",
    size: "5",
    placeholder: field.unset,
    "aria-label": `${nameOf(field)}, ${rangeWords(field)}`,
  });
  typed.addEventListener("change", () => {
    try {
      told.textContent = "";
      put(field, read(field, typed.value));
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      told.textContent = error.message;
      typed.setAttribute("aria-invalid", "true");
      return;
    }
    typed.removeAttribute("aria-invalid");
    show();
  });
  const turn = field.unit === "percent" ? turnable(field) : null;
  if (turn) box.append(turn);
  box.append(typed, make("span", field.unit === "percent" ? "%" : field.unit, { class: "unit" }));
  const fresh = () => {
    const value = valueOf(field);
    if (document.activeElement !== typed || !typed.hasAttribute("aria-invalid")) typed.value = `${value}`;
    if (turn && !turn.matches(":active")) turn.value = `${value}`;
  };
  return [box, fresh];
}

/* A dial that acts while it is turned; one turn is one step to undo. */
function turnable(field) {
  const turn = make("input", "", {
    type: "range",
    min: `${field.low}`,
    max: `${field.high}`,
    step: "1",
    tabindex: "-1",
    "aria-hidden": "true",
  });
  turn.addEventListener("pointerdown", () => {
    view.gesture += 1;
  });
  turn.addEventListener("input", () => {
    const number = turn.nextSibling;
    number.value = turn.value;
    put(field, Number(turn.value), `${field.name} ${view.gesture}`);
  });
  return turn;
}

function choiceField(field) {
  const select = make("select", "", { "aria-label": nameOf(field) });
  options(select, field.choices.map((choice) => [choice, choice]));
  select.addEventListener("change", () => put(field, select.value));
  return [select, () => (select.value = `${valueOf(field)}`)];
}

/* What a setting means, with literal values as such. */
function meaning(field) {
  const words = make("span", "", { class: "what" });
  words.append(make("b", nameOf(field)));
  field.words.split("`").forEach((part, index) => words.append(make(index % 2 ? "code" : "span", part)));
  if (field.kind === "number") words.append(make("small", rangeWords(field)));
  return words;
}

function line(field) {
  const item = make("li");
  const told = make("span", "", { class: "refused", role: "alert" });
  const [node, fresh] = field.kind === "choice" ? choiceField(field) : numberField(field, told);
  const back = button("as usual", `${nameOf(field)} as usual`, () => put(field, null));
  back.className = "quiet";
  item.append(meaning(field), node, back, told);
  view.nodes.push(() => {
    const idle = field.needs && !own().defaults[field.needs];
    item.hidden = idle || (view.section >= 0 && !field.section);
    item.classList.toggle("own", isOwn(field));
    back.hidden = !isOwn(field);
    fresh();
  });
  return item;
}

function show() {
  for (const fresh of view.nodes) fresh();
}

function sections() {
  const choices = [["-1", "the whole take"]];
  now.all.sections.forEach((section, index) => choices.push([`${index}`, shown(section.name)]));
  options(one("settings-of"), choices);
  if (view.section >= now.all.sections.length) view.section = -1;
  one("settings-of").value = `${view.section}`;
  one("settings-of-part").hidden = choices.length < 3;
}

function start() {
  const { fields } = now.all;
  const list = (some) => {
    const node = make("ul", "", { class: "settings-list" });
    node.append(...some.map(line));
    return node;
  };
  one("settings").append(list(fields.filter(({ usual }) => usual)));
  const rest = fields.filter(({ usual }) => !usual);
  for (const group of new Set(rest.map((field) => field.group))) {
    const more = make("details");
    more.append(make("summary", `More: ${group.toLowerCase()}`));
    more.append(list(rest.filter((field) => field.group === group)));
    one("settings").append(more);
  }
  sections();
  one("settings-of").addEventListener("change", () => {
    view.section = Number(one("settings-of").value);
    show();
  });
  show();
}

/* What is set follows what was decided elsewhere: by undoing, in another tab. */
function refresh() {
  sections();
  show();
}

export { refresh, start };
