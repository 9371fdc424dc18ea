/* The list to be heard. One place is current: it shows what can be said of it, each with its key. */
import { button, make, one } from "../web/dom.js";
import { now } from "./model.js";
import { VERDICTS, isDone, places } from "./places.js";
import { shown } from "./words.js";

const state = { current: null, kind: "", calls: null, drawn: "" };

/* What can be said, with the letter that says it. */
const SAY = [
  { name: "right", letter: "S", text: "Sounds right" },
  { name: "left", letter: "L", text: "Leave as played" },
  { name: "earlier", letter: "E", text: "1 ms earlier" },
  { name: "later", letter: "D", text: "1 ms later" },
  { name: "waits", letter: "W", text: "Wait for the song" },
];

const visible = () => places().filter(({ kind }) => !state.kind || kind === state.kind);

const current = () => places().find(({ key }) => key === state.current) ?? null;

function say(item) {
  const line = make("div", "", { class: "say" });
  for (const { name, letter, text } of SAY) {
    const node = button(text, "", () => state.calls.say(name));
    node.append(make("kbd", letter));
    if (name === item.as) node.setAttribute("aria-pressed", "true");
    line.append(node);
  }
  return line;
}

function entry(item) {
  const node = make("li", "", { "data-key": item.key });
  const mine = item.key === state.current;
  if (mine) node.setAttribute("aria-current", "true");
  if (isDone(item)) node.classList.add("done");
  const head = make("div", "", { class: "entry" });
  const play = button(item.place, `Play ${item.kind} at ${item.place}`, () => go(item.key));
  play.className = "place";
  head.append(play, make("strong", item.kind));
  const said = item.as ? VERDICTS[item.as] : "";
  if (said) head.append(make("span", said, { class: "said" }));
  node.append(head, make("p", shown(item.text)));
  if (mine) node.append(say(item));
  return node;
}

function count() {
  const items = places();
  const heard = items.filter(({ as }) => as !== null).length;
  one("heard").textContent = items.length
    ? `${heard} of ${items.length} heard`
    : "Nothing here asks for your ear.";
  const share = items.length ? heard / items.length : 1;
  one("heard-bar").style.setProperty("--share", share.toFixed(3));
  one("go-on").hidden = !items.length;
}

function kinds() {
  const all = places();
  const each = [...new Set(all.map(({ kind }) => kind))];
  if (!each.includes(state.kind)) state.kind = "";
  const choices = [["", `all kinds (${all.length})`]];
  for (const kind of each) {
    choices.push([kind, `${kind} (${all.filter((item) => item.kind === kind).length})`]);
  }
  one("kinds").replaceChildren(...choices.map(([value, text]) => make("option", text, { value })));
  one("kinds").value = state.kind;
  one("kinds-part").hidden = each.length < 2;
}

/* Draw the list anew, where it differs; the keyboard stays where it was. */
function draw() {
  const drawn = JSON.stringify([places(), state.current, state.kind]);
  if (drawn === state.drawn) return;
  state.drawn = drawn;
  const list = one("flags");
  const held = list.contains(document.activeElement) ? document.activeElement : null;
  const spot = held && [...held.closest("li").querySelectorAll("button")].indexOf(held);
  const key = held?.closest("li").dataset.key;
  list.replaceChildren(...visible().map(entry));
  if (held) {
    const same = [...list.children].find((node) => node.dataset.key === key);
    same?.querySelectorAll("button")[spot]?.focus({ preventScroll: true });
  }
  count();
  kinds();
}

/* Make a place the current one and play it. */
function go(key) {
  state.current = key;
  draw();
  const item = current();
  if (!item) return;
  const node = [...one("flags").children].find(({ dataset }) => dataset.key === key);
  node?.scrollIntoView({ block: "nearest" });
  state.calls.play(item);
}

/* The next or previous place; those that are decided are left out, unless all are. */
function step(way) {
  const items = visible();
  if (!items.length) return;
  const open = items.some((item) => !isDone(item));
  let index = items.findIndex(({ key }) => key === state.current);
  if (index < 0 && way < 0) index = 0;
  for (let tries = 0; tries < items.length; tries += 1) {
    index = (index + way + items.length) % items.length;
    if (!open || !isDone(items[index])) break;
  }
  go(items[index].key);
}

/* `calls`: {play(item), say(name)}. */
function start(calls) {
  state.calls = calls;
  one("kinds").addEventListener("change", () => {
    state.kind = one("kinds").value;
    draw();
  });
  if (!now.all.flags.length && !places().length) one("kinds-part").hidden = true;
  draw();
}

export { SAY, current, draw, go, start, state, step };
