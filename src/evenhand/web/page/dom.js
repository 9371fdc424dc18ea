/* Elements: found, made, filled. Nothing from a take becomes markup: all is written as text. */
const one = (id) => document.getElementById(id);

/* An element with text and attributes. */
function make(tag, text = "", more = {}) {
  const node = document.createElement(tag);
  node.textContent = text;
  for (const [name, value] of Object.entries(more)) node.setAttribute(name, value);
  return node;
}

function button(text, label, call) {
  const node = make("button", text, { type: "button" });
  if (label) node.setAttribute("aria-label", label);
  node.addEventListener("click", call);
  return node;
}

/* A row of a table; the first cell names it. A cell is an element or a text. */
function row(body, cells) {
  const line = make("tr");
  cells.forEach((cell, index) => {
    const box = make(index ? "td" : "th", cell instanceof Node ? "" : cell);
    if (!index) box.setAttribute("scope", "row");
    if (cell instanceof Node) box.append(cell);
    line.append(box);
  });
  body.append(line);
  return line;
}

/* Fill a choice: pairs of value and text; where they are there already, nothing is done. */
function options(select, some) {
  const [there, wanted] = [[...select.options].map(({ value, text }) => [value, text]), some];
  if (JSON.stringify(there) === JSON.stringify(wanted)) return;
  select.replaceChildren(...some.map(([value, text]) => make("option", text, { value })));
}

/* Write a text where it differs: writing the same one costs a layout of the page. */
function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/* Do something once, however often it is asked for in one go: right after what runs now. */
function soon(call) {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    queueMicrotask(() => {
      asked = false;
      call();
    });
  };
}

export { button, make, one, options, row, soon, write };
