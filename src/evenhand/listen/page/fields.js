/* Settings as sentences with a gap, for the whole take or for a section. Each says its range, and
   refuses by name what lies outside. */
import { make, one, options } from "../web/dom.js";
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

/* What holds now: of the section, of the take, the usual. */
function valueOf({ name, usual }) {
  const take = own().defaults[name] ?? usual;
  return view.section < 0 ? take : (tableOf(view.section)[name] ?? take);
}

const isOwn = ({ name }) =>
  view.section < 0 ? name in own().defaults : name in tableOf(view.section);

function put({ name }, value, gesture) {
  const change = { op: "set", name, value };
  if (gesture) change.gesture = gesture;
  if (view.section >= 0) change.section = sectionKey(tableOf(view.section));
  decide(change);
}

const rangeWords = ({ auto, low, high, unit }) =>
  `${low} to ${high}${unit ? ` ${unit}` : ""}${auto ? ", or auto" : ""}`;

/* A number as it was typed; throws what to say if it is none, or outside its range. */
function read(field, text) {
  const { auto, name, low, high } = field;
  const typed = text.trim();
  if (typed === "") return null;
  if (auto && typed === "auto") return "auto";
  const number = Number(typed.replace(",", "."));
  if (!Number.isFinite(number) || number < low || number > high) {
    throw new RangeError(`${name.replaceAll("_", " ")}: ${typed} is not ${rangeWords(field)}`);
  }
  return field.whole ? Math.round(number) : number;
}

function numberField(field, told) {
  const box = make("span", "", { class: "gap" });
  const typed = make("input", "", {
    type: "text",
    inputmode: "decimal",
    size: "5",
    "aria-label": `${field.name.replaceAll("_", " ")}, ${rangeWords(field)}`,
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
  const turn = field.auto ? null : turnable(field);
  if (turn) box.append(turn);
  box.append(typed);
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
    max: `${Math.min(field.high, field.most ?? field.high)}`,
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
  const select = make("select", "", { "aria-label": field.name.replaceAll("_", " ") });
  options(select, field.choices.map((choice) => [choice, choice]));
  select.addEventListener("change", () => put(field, select.value));
  return [select, () => (select.value = `${valueOf(field)}`)];
}

function sentence(field) {
  const item = make("li");
  const told = make("span", "", { class: "refused", role: "alert" });
  const [node, fresh] = field.choices.length ? choiceField(field) : numberField(field, told);
  const back = make("button", "as usual", {
    type: "button",
    "aria-label": `${field.name.replaceAll("_", " ")} as usual`,
    class: "quiet",
  });
  back.addEventListener("click", () => put(field, null));
  item.append(make("span", field.before), node, make("span", field.after), back, told);
  if (!field.choices.length) item.append(make("small", rangeWords(field)));
  view.nodes.push(() => {
    item.hidden = view.section >= 0 && !field.in_section;
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
  const groups = [...new Set(now.all.fields.map(({ group }) => group))];
  for (const group of groups) {
    const part = make("section", "", { "aria-label": group });
    const list = make("ul", "", { class: "sentences" });
    for (const field of now.all.fields) if (field.group === group) list.append(sentence(field));
    part.append(make("h3", group), list);
    one("settings").append(part);
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
