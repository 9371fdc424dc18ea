/* Sorting and filtering of the table; without it the table stands in the order of the names. */
import { button, one } from "../web/dom.js";

const table = one("takes");
const body = table.tBodies[0];
const heads = [...table.tHead.rows[0].cells];
const filter = one("filter");
const words = new Intl.Collator("en", { numeric: true });

const value = (row, column) => row.cells[column].dataset.value ?? "";

/* Rows without a value come last, whichever way it goes. */
function compare(first, other, column, number) {
  const [a, b] = [value(first, column), value(other, column)];
  if (a === "" || b === "") return { last: (a === "") - (b === "") };
  return { order: number ? a - b : words.compare(a, b) };
}

function sort(column) {
  const head = heads[column];
  const number = head.className !== "text";
  const down = head.ariaSort ? head.ariaSort === "ascending" : number;
  for (const other of heads) other.removeAttribute("aria-sort");
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const rows = [...body.rows].sort((first, other) => {
    const { last, order } = compare(first, other, column, number);
    return last ?? (down ? -order : order);
  });
  body.append(...rows);
}

function show() {
  const text = filter.value.toLowerCase();
  let count = 0;
  for (const row of body.rows) {
    row.hidden = !value(row, 0).toLowerCase().includes(text);
    count += !row.hidden;
  }
  one("shown").textContent = text ? `${count} of ${body.rows.length}` : "";
}

heads.forEach((head, column) => {
  head.replaceChildren(button(head.textContent, "", () => sort(column)));
});
filter.addEventListener("input", show);
