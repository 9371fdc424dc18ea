/* What becomes of the decisions: a live page keeps them with its server; a page of one file hands
   over a recipe, and the line that makes take and page again with it. */
import { one } from "../web/dom.js";
import { isLive, steps } from "./decisions.js";
import { now } from "./model.js";
import { recipeText } from "./recipe.js";

const state = { line: null, replacing: false };

function tell(text, bad = false) {
  one("told").textContent = text;
  one("told").classList.toggle("refused", bad);
}

/* Files are there that this review did not write: the second click replaces them. */
function exists(text) {
  state.replacing = true;
  one("keep").textContent = "Replace them";
  tell(`${text} is there already: click again to replace it. Passes on record stay.`, true);
}

function keep() {
  tell("Writing…");
  state.line.ask({ op: "keep", replace: state.replacing });
  state.replacing = false;
  one("keep").textContent = "Keep";
}

async function copy() {
  try {
    await navigator.clipboard.writeText(recipeText());
    tell("Copied.");
  } catch {
    // A page from the disk may not be allowed to: leave the text marked instead.
    one("recipe").select();
    tell("Marked: press Ctrl+C to copy.");
  }
}

function save() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([recipeText()], { type: "application/toml" }));
  link.download = now.all.command.recipe_file;
  link.click();
  URL.revokeObjectURL(link.href);
  tell(`Saved as ${link.download}.`);
}

function show() {
  const [back, on] = steps();
  one("undo").disabled = !back;
  one("redo").disabled = !on;
  if (!isLive()) return;
  const slot = Boolean(now.hits.slot);
  one("use-slot").hidden = !slot;
}

function start(line) {
  state.line = line;
  const live = isLive();
  for (const node of document.querySelectorAll(".live-only")) node.hidden = !live;
  for (const node of document.querySelectorAll(".file-only")) node.hidden = live;
  if (live) {
    one("where").textContent = `Every decision is in ${now.all.recipe_file} at once.`;
    one("keep").addEventListener("click", keep);
    one("put-aside").addEventListener("click", () => line.ask({ op: "slot" }));
    one("use-slot").addEventListener("click", () => line.ask({ op: "use slot" }));
    return;
  }
  one("copy").addEventListener("click", copy);
  one("save").addEventListener("click", save);
  one("command").textContent = now.all.command.text;
}

export { exists, show, start, tell };
