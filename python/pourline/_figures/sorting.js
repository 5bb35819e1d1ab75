// In: a table. Out: the same, with buttons in its head that sort it; without this script it is complete.

/** A cell as a number, also of a time such as 1:34; NaN if it is a text. */
function cellNumber(text) {
  const clock = text.match(/^(\d+):(\d\d)(?::(\d\d))?$/);
  if (clock) return clock.slice(1).reduce((sum, part) => (part === undefined ? sum : 60 * sum + Number(part)), 0);
  return /^[-+<.\d]/.test(text) ? parseFloat(text.replace("<", "")) : NaN;
}

/** Numbers first, then texts in their order, missing ones last. */
function inOrder(a, b) {
  const [x, y] = [cellNumber(a), cellNumber(b)];
  if (Number.isNaN(x) || Number.isNaN(y)) {
    if (Number.isNaN(x) && Number.isNaN(y)) return (a === "–") - (b === "–") || a.localeCompare(b);
    return Number.isNaN(x) - Number.isNaN(y);
  }
  return x - y;
}

function sortable(table) {
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const way = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
      for (const one of heads) one.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
      const text = (row) => row.cells[column].textContent;
      const missing = (row) => text(row) === "–";
      const rows = [...table.tBodies[0].rows];
      rows.sort((a, b) => missing(a) - missing(b) || way * inOrder(text(a), text(b)));
      table.tBodies[0].append(...rows);
    });
  });
}
