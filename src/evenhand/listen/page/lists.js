/* Words and lists: everything on the page that is text. Nothing from the take becomes markup. */
import * as Data from "./data.js";
import * as Recipe from "./recipe.js";
import * as Marks from "./marks.js";
import { colour } from "../web/colours.js";
import { button, make, one, row } from "../web/dom.js";

const { all } = Data;

function head() {
  one("name").textContent = all.name;
  document.title = `evenhand: listen to ${all.name}`;
  const beside = all.after_name ? `, beside ${all.after_name}` : "";
  const count = Data.count ? `${Data.count} hits, ` : "";
  one("facts").textContent = `${count}${all.facts}${beside}`;
  one("note").textContent = all.note || "";
  one("note").hidden = !all.note;
  one("made").textContent = `Made by evenhand ${all.evenhand}. Nothing on this page uses a network.`;
}

/* A take without hits: the page says so. */
function empty() {
  const main = one("page");
  main.replaceChildren(
    make("p", "There are no hits in this take, so there is nothing to hear or to see.", {
      class: "care",
    }),
  );
}

function flags(play) {
  for (const [index, flag] of all.flags.entries()) {
    const item = make("li", "", { id: `flag-${index}` });
    const label = `Play flag ${index + 1}, ${flag.kind} at ${flag.place}`;
    item.append(
      button(flag.place, label, () => play(index)),
      make("strong", flag.kind),
      make("span", flag.text),
    );
    one("flags").append(item);
  }
  if (!all.flags.length) one("flags").replaceWith(make("p", "No flags."));
}

function markFlag(index) {
  for (const item of one("flags").children) {
    item.toggleAttribute("aria-current", item.id === `flag-${index}`);
  }
}

function spread() {
  const most = Math.max(
    1,
    ...all.tightness.map((line) => Math.max(line.spread_before, line.spread_after)),
  );
  const body = one("spread").tBodies[0];
  for (const line of all.tightness) {
    const bars = make("div", "", { class: "bars", "aria-hidden": "true" });
    for (const side of ["before", "after"]) {
      const bar = make("div", "", { class: side });
      bar.style.width = `${(100 * line[`spread_${side}`]) / most}%`;
      bars.append(bar);
    }
    row(body, [
      line.name,
      `${line.hits}`,
      Data.signed(line.mean_before),
      Data.signed(line.mean_after),
      line.spread_before.toFixed(1),
      line.spread_after.toFixed(1),
      `${line.inside_before.toFixed(0)} %`,
      `${line.inside_after.toFixed(0)} %`,
      bars,
    ]);
  }
  if (!all.tightness.length) row(body, ["no anchor belongs to a line of this grid"]);
}

function sections(play) {
  const header = one("sections").tHead.rows[0];
  for (const key of Recipe.supports.section) header.append(make("th", key, { scope: "col" }));
  const lean = (value) => (value === null ? "none" : Data.signed(value));
  for (const [index, section] of all.sections.entries()) {
    const cells = [
      section.name,
      `${section.first_bar}-${section.last_bar}`,
      lean(section.lean_before),
      lean(section.lean_after),
      button("Play", `Play section ${section.name}`, () => play(section)),
    ];
    for (const key of Recipe.supports.section) {
      cells.push(
        setting(`${key} in ${section.name}`, (value) => Recipe.setSection(index, key, value)),
      );
    }
    row(one("sections").tBodies[0], cells);
    one("loop").append(make("option", section.name, { value: `section ${index}` }));
  }
  one("loop").append(make("option", "two bars around the place", { value: "here" }));
}

/* A number that may be left empty. */
function setting(label, call) {
  const input = make("input", "", { type: "number", "aria-label": label, step: "1" });
  input.addEventListener("change", () => {
    const value = input.value.trim() === "" ? null : Number(input.value);
    if (value === null || Number.isFinite(value)) call(value);
  });
  return input;
}

function takeSettings() {
  const limits = { strength: [0, 100, "%"], window: [0, 200, "ms"], lean: [0, 100, "%"] };
  for (const key of Recipe.supports.defaults) {
    const [min, max, unit] = limits[key];
    const label = make("label", `${key} of the whole take, ${unit} `);
    const input = setting(`${key} of the whole take`, (value) => {
      const inside = value === null ? null : Math.min(max, Math.max(min, value));
      if (inside !== null) input.value = inside;
      Recipe.setDefault(key, inside);
    });
    input.min = min;
    input.max = max;
    label.append(input);
    one("take-settings").append(label);
  }
}

function kept() {
  for (const line of all.kept) one("kept").append(make("li", line));
  one("passes-part").hidden = !all.passes.length;
  for (const pass of all.passes) one("passes").append(make("li", pass.text));
}

/* Level and mute of each piece, most played first. */
function levels(change) {
  const counts = Data.hits.pieces.map(() => 0);
  for (const piece of Data.hits.piece) counts[piece] += 1;
  const order = [...counts.keys()].sort((a, b) => counts[b] - counts[a]);
  for (const piece of order) {
    const name = Data.hits.pieces[piece];
    const heard = make("input", "", { type: "checkbox", "aria-label": `hear the ${name}` });
    heard.checked = true;
    const level = make("input", "", {
      type: "range",
      min: "-36",
      max: "12",
      step: "1",
      value: "0",
      "aria-label": `level of the ${name}, dB`,
    });
    const tell = () => change(piece, heard.checked ? Number(level.value) : null);
    heard.addEventListener("change", tell);
    level.addEventListener("input", tell);
    row(one("levels").tBodies[0], [name, `${counts[piece]}`, heard, level]);
  }
  one("borrowed").textContent = all.borrowed.length
    ? `From the sound bank, because the folder lacks them: ${all.borrowed.join(", ")}.`
    : "";
}

function legend() {
  const used = new Set(Marks.familyOfPiece);
  Marks.FAMILIES.forEach((family, index) => {
    if (!used.has(index)) return;
    const item = make("li", "");
    item.append(symbol(family), make("span", family.name));
    one("legend").append(item);
  });
  const words = [
    ["flag", "flag"],
    ["lean", "lean of a section, before (dashed) and after"],
    ["window", "window"],
  ];
  for (const [name, text] of words) {
    const item = make("li");
    item.append(make("span", "", { class: `sign ${name}` }), make("span", text));
    one("legend").append(item);
  }
}

function symbol(family) {
  const canvas = make("canvas", "", { width: "28", height: "28", "aria-hidden": "true" });
  const draw = () => {
    const ctx = canvas.getContext("2d");
    ctx.clearRect(0, 0, 28, 28);
    const path = new Path2D();
    Marks.SHAPES[family.shape](path, 14, 14, 9);
    ctx.fillStyle = colour(family.colour);
    ctx.strokeStyle = ctx.fillStyle;
    ctx.lineWidth = 3;
    if (!family.open) ctx.fill(path);
    ctx.stroke(path);
  };
  draw();
  canvas.addEventListener("colours", draw);
  return canvas;
}

function recolour() {
  for (const canvas of one("legend").querySelectorAll("canvas")) {
    canvas.dispatchEvent(new Event("colours"));
  }
}

function decisions() {
  const list = one("decisions");
  const items = Recipe.list();
  list.replaceChildren(
    ...items.map(({ words, undo }) => {
      const item = make("li", `${words} `);
      item.append(button("Undo", `Undo: ${words}`, undo));
      return item;
    }),
  );
  if (!items.length) list.append(make("li", "Nothing decided yet."));
  one("recipe").value = Recipe.text();
}

function keys(table) {
  for (const { shown, what } of table) {
    const name = make("dt");
    name.append(make("kbd", shown));
    one("keys").append(name, make("dd", what));
  }
}

export {
  head,
  empty,
  flags,
  markFlag,
  spread,
  sections,
  takeSettings,
  kept,
  levels,
  legend,
  recolour,
  decisions,
  keys,
};
