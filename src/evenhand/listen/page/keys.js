/* The keys work whatever was clicked last, but where text is typed. Space works a control that was
   reached by keyboard, and the sound otherwise. */
import { make, one } from "../web/dom.js";

const TYPED = 'input[type="text"], input[type="search"], textarea';
const WORKED = "button, summary, select, input, a";

const hand = { mouse: false };

function known(event, table) {
  const key = event.key.toLowerCase();
  if (event.ctrlKey || event.metaKey) {
    if (event.altKey) return null;
    const name = `Ctrl+${event.shiftKey ? "Shift+" : ""}${key}`;
    return table.find(({ also }) => also?.includes(name)) ?? null;
  }
  if (event.altKey) return null;
  return table.find((entry) => entry.key === key) ?? null;
}

function listen(table, more) {
  document.addEventListener("pointerdown", () => (hand.mouse = true), true);
  document.addEventListener(
    "keydown",
    (event) => {
      if (["Tab", "ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"].includes(event.key)) {
        hand.mouse = false;
      }
    },
    true,
  );
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || !one("use-keys").checked) return;
    if (event.target.matches(TYPED)) {
      if (event.key === "Escape") event.target.blur();
      return;
    }
    if (event.key === " " && !hand.mouse && event.target.matches(WORKED)) return;
    const found = known(event, table);
    if (!found) return;
    event.preventDefault();
    found.call();
  });
  // A button that was clicked by mouse would take the Space when it is let go.
  document.addEventListener("keyup", (event) => {
    if (event.key === " " && hand.mouse && event.target.matches(WORKED)) event.preventDefault();
  });
  for (const { shown, what } of [...table, ...more]) {
    const name = make("dt");
    name.append(make("kbd", shown));
    one("keys").append(name, make("dd", what));
  }
}

export { listen };
