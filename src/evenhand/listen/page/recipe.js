/* The decisions as the text of a recipe, and as sentences. */
import { own } from "./decisions.js";
import { shown, signed } from "./words.js";

/* A JSON string is a TOML string, but for one control character that JSON lets stand. */
const quoted = (words) => JSON.stringify(words).replaceAll("\x7f", "\\u007f");

function value(one) {
  if (Array.isArray(one)) return `[${one.map(value).join(", ")}]`;
  return typeof one === "string" ? quoted(one) : `${one}`;
}

const lines = (table) => Object.entries(table).map(([name, one]) => `${name} = ${value(one)}`);

/* The whole recipe. */
function recipeText() {
  const { defaults, sections, holds, nudges } = own();
  const parts = [["[defaults]", ...lines(defaults)]];
  for (const table of sections) parts.push(["[[section]]", ...lines(table)]);
  for (const at of holds) parts.push(["[[hold]]", `at = ${quoted(at)}`]);
  for (const table of nudges) parts.push(["[[nudge]]", ...lines(table)]);
  return `${parts.map((part) => part.join("\n")).join("\n\n")}\n`;
}

/* The decisions as a list of {words, undo}: the change that takes each back. */
function decisionList() {
  const { defaults, sections, holds, nudges } = own();
  const items = [];
  for (const [name, one] of Object.entries(defaults)) {
    items.push({
      words: `whole take: ${name.replaceAll("_", " ")} ${one}`,
      undo: { op: "set", name, value: null },
    });
  }
  for (const { name, bars, ...settings } of sections) {
    for (const [setting, one] of Object.entries(settings)) {
      items.push({
        words: `${shown(name ?? `bars ${bars}`)}: ${setting.replaceAll("_", " ")} ${one}`,
        undo: { op: "set", name: setting, value: null, section: { name: name ?? "", bars: bars ?? "" } },
      });
    }
  }
  for (const at of holds) {
    items.push({ words: `${at} stays as played`, undo: { op: "hold", at, on: false } });
  }
  for (const { at, piece, ms } of nudges) {
    items.push({
      words: `${at}${piece ? `, ${piece}` : ""}: nudged by ${signed(ms)} ms`,
      undo: { op: "nudge", at, piece: piece ?? "", ms: 0 },
    });
  }
  return items;
}

export { decisionList, recipeText };
