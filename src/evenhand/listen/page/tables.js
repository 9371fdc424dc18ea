/* Figures and sentences below the chart. Nothing from the take becomes markup. */
import { colour } from "../web/colours.js";
import { button, make, one, row } from "../web/dom.js";
import { decide, isLive, onDecision } from "./decisions.js";
import { now, onChange } from "./model.js";
import { decisionList, recipeText } from "./recipe.js";
import { FAMILIES, SHAPES, familyOfPieces } from "./shapes.js";
import * as Time from "./time.js";
import { shown, signed } from "./words.js";

function head() {
  const { all } = now;
  one("name").textContent = shown(all.name);
  document.title = `evenhand: ${shown(all.name)}`;
  const beside = all.after_name ? `, beside ${shown(all.after_name)}` : "";
  one("facts").textContent = `${now.count ? `${now.count} hits, ` : ""}${all.facts}${beside}`;
  one("note").textContent = all.note || "";
  one("note").hidden = !all.note;
  one("sentence").textContent = all.sentence ?? "";
  const network = isLive() ? "Served from this computer only." : "Nothing on this page uses a network.";
  one("made").textContent = `Made by evenhand ${all.evenhand}. ${network}`;
}

/* A take without hits: the page says so. */
function empty() {
  const text = "There are no hits in this take, so there is nothing to hear or to see.";
  one("page").replaceChildren(make("p", text, { class: "care" }));
}

function spread() {
  const { tightness } = now.all;
  const most = Math.max(1, ...tightness.map((line) => Math.max(line.spread_before, line.spread_after)));
  const body = one("spread").tBodies[0];
  body.replaceChildren();
  for (const line of tightness) {
    const bars = make("div", "", { class: "bars", "aria-hidden": "true" });
    for (const side of ["before", "after"]) {
      const bar = make("div", "", { class: side });
      bar.style.width = `${(100 * line[`spread_${side}`]) / most}%`;
      bars.append(bar);
    }
    row(body, [
      line.name,
      `${line.hits}`,
      signed(line.mean_before),
      signed(line.mean_after),
      line.spread_before.toFixed(1),
      line.spread_after.toFixed(1),
      `${line.inside_before.toFixed(0)} %`,
      `${line.inside_after.toFixed(0)} %`,
      bars,
    ]);
  }
  if (!tightness.length) row(body, ["no anchor belongs to a line of this grid"]);
}

function sections(play) {
  const body = one("sections").tBodies[0];
  body.replaceChildren();
  const lean = (value) => (value === null ? "none" : signed(value));
  for (const section of now.all.sections) {
    row(body, [
      shown(section.name),
      `${section.first_bar}-${section.last_bar}`,
      lean(section.lean_before),
      lean(section.lean_after),
      button("Play", `Play section ${shown(section.name)}`, () => play(section)),
    ]);
  }
}

const sentences = (id, some) => one(id).replaceChildren(...some.map((text) => make("li", text)));

function passes() {
  sentences("passes", now.all.passes.map(({ text }) => shown(text)));
  one("passes-part").hidden = !now.all.passes.length;
}

function levels(change) {
  const count = new Map();
  for (const piece of now.hits.piece) count.set(piece, (count.get(piece) ?? 0) + 1);
  now.hits.pieces.forEach((piece, index) => {
    const box = make("input", "", { type: "checkbox", "aria-label": `${piece} heard` });
    const level = make("input", "", {
      type: "range",
      min: "-30",
      max: "12",
      step: "1",
      value: "0",
      "aria-label": `level of ${piece}, dB`,
    });
    box.checked = true;
    const act = () => change(index, box.checked ? Number(level.value) : null);
    box.addEventListener("change", act);
    level.addEventListener("input", act);
    row(one("levels").tBodies[0], [piece, `${count.get(index) ?? 0}`, box, level]);
  });
}

function borrowed() {
  const names = now.all.borrowed;
  one("borrowed").textContent = names.length
    ? `From the sound bank, not from your folder: ${names.join(", ")}.`
    : "";
}

function legend() {
  const present = new Set(now.hits.piece.map((piece) => familyOfPieces()[piece]));
  FAMILIES.forEach((family, index) => {
    if (!present.has(index)) return;
    const item = make("li");
    item.append(symbol(family), make("span", family.name));
    one("legend").append(item);
  });
  const signs = [
    ["window", "left alone"],
    ["lean", "lean of a section, before (dashed) and after"],
    ["held", "held"],
    ["fill", "fill"],
    ["push", "ran ahead or behind as one"],
    ["flag", "to be heard"],
  ];
  for (const [name, text] of signs) {
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
    SHAPES[family.shape](path, 14, 14, 9);
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
  const items = decisionList();
  one("decisions").replaceChildren(
    ...items.map(({ words, undo }) => {
      const item = make("li", `${words} `);
      item.append(button("Take back", `Take back: ${words}`, () => decide(undo)));
      return item;
    }),
  );
  if (!items.length) one("decisions").append(make("li", "Nothing decided yet."));
  if (!isLive()) one("recipe").value = recipeText();
}

/* Fills and pushes, each to be heard. */
function stretches(play) {
  const item = (from, text) => {
    const node = make("li", `${Time.placeAt(from + 1)}, ${text}`);
    node.append(button("Play", `Play ${text} at ${Time.placeAt(from + 1)}`, () => play(from)));
    return node;
  };
  const { fills, pushes } = now.all;
  const side = (ms) => `${Math.abs(ms).toFixed(0)} ms ${ms < 0 ? "ahead" : "behind"}`;
  const items = [
    ...fills.map(([from]) => [from, "fill"]),
    ...pushes.map(({ from_ms, ms, shift }) => [from_ms, `ran ${side(ms)}, moved ${signed(shift, 0)} ms`]),
  ].sort(([first], [second]) => first - second);
  one("stretches").replaceChildren(...items.map(([from, text]) => item(from, text)));
  one("stretches-part").hidden = !items.length;
}

/* `playSection(section)`, `playStretch(from)`, `setLevel(piece, db)`. */
function start(playSection, playStretch, setLevel) {
  // What each is made of: all of it is drawn anew only where that changed.
  const parts = [
    [["sentence", "facts", "note"], head],
    [["tightness"], spread],
    [["sections"], () => sections(playSection)],
    [["fills", "pushes"], () => stretches(playStretch)],
    [["kept"], () => sentences("kept", now.all.kept)],
    [["passes"], passes],
    [["borrowed"], borrowed],
  ];
  for (const [, draw] of parts) draw();
  legend();
  levels(setLevel);
  decisions();
  onDecision(decisions);
  onChange((names) => {
    for (const [of, draw] of parts) if (of.some((name) => names.has(name))) draw();
  });
}

export { empty, head, recolour, start };
