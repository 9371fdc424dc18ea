/* Sorting and filtering of the table; without it the table stands in the order of the names. */
"use strict";

(() => {
  const table = document.getElementById("takes");
  const body = table.tBodies[0];
  const heads = [...table.tHead.rows[0].cells];
  const filter = document.getElementById("filter");
  const words = new Intl.Collator("en", { numeric: true });

  const value = (row, column) => row.cells[column].dataset.value ?? "";

  /* Rows without a value come last, whichever way it goes. */
  function compare(one, other, column, number) {
    const [a, b] = [value(one, column), value(other, column)];
    if (a === "" || b === "") return { last: (a === "") - (b === "") };
    return { order: number ? a - b : words.compare(a, b) };
  }

  function sort(column) {
    const head = heads[column];
    const number = head.className !== "text";
    const down = head.ariaSort ? head.ariaSort === "ascending" : number;
    for (const other of heads) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const rows = [...body.rows].sort((one, other) => {
      const { last, order } = compare(one, other, column, number);
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
    document.getElementById("shown").textContent = text ? `${count} of ${body.rows.length}` : "";
  }

  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.addEventListener("click", () => sort(column));
    head.replaceChildren(button);
  });
  filter.addEventListener("input", show);
})();
