"use strict";
// Sorts and filters the tables of this page. It holds no data and asks for none.
(function () {
  document.documentElement.classList.add("scripted");

  function value(row, index) {
    var cell = row.cells[index];
    return cell.dataset.v !== undefined ? Number(cell.dataset.v) : cell.textContent.trim();
  }

  function compare(a, b) {
    if (a === "" || b === "") return a === b ? 0 : a === "" ? 1 : -1; // what is not known comes last, either way round
    if (typeof a === "number" && typeof b === "number") return a - b;
    return String(a).localeCompare(String(b), "en", { numeric: true });
  }

  function sort(table, index, status) {
    var heads = table.tHead.rows[0].cells;
    var down = heads[index].getAttribute("aria-sort") === "ascending";
    var body = table.tBodies[0];
    var rows = Array.from(body.rows).map(function (row, place) { return { row: row, value: value(row, index), place: place }; });
    rows.sort(function (a, b) {
      var order = compare(a.value, b.value);
      if (down && a.value !== "" && b.value !== "") order = -order;
      return order || a.place - b.place;
    });
    rows.forEach(function (entry) { body.appendChild(entry.row); });
    Array.from(heads).forEach(function (head, place) {
      head.setAttribute("aria-sort", place === index ? (down ? "descending" : "ascending") : "none");
    });
    status.textContent = "Sorted by " + heads[index].querySelector("button").textContent + (down ? ", descending" : ", ascending");
  }

  function filter(table, words, status) {
    var rows = Array.from(table.tBodies[0].rows);
    var wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
    var left = 0;
    rows.forEach(function (row) {
      var text = wanted.length ? row.textContent.toLowerCase() : "";
      row.hidden = !wanted.every(function (word) { return text.includes(word); });
      if (!row.hidden) left += 1;
    });
    status.textContent = wanted.length ? left + " of " + rows.length + " rows" : rows.length + " rows";
  }

  document.querySelectorAll("section[data-table]").forEach(function (section) {
    var table = section.querySelector("table");
    var status = section.querySelector("output");
    var field = section.querySelector("input");
    if (!table || !status || !field) return;
    Array.from(table.tHead.rows[0].cells).forEach(function (head, index) {
      var button = document.createElement("button");
      var printed = document.createElement("span"); // a button is not repeated at the head of the next sheet
      button.type = "button";
      button.textContent = printed.textContent = head.textContent;
      printed.className = "printed";
      head.replaceChildren(button, printed);
      head.setAttribute("aria-sort", "none");
      button.addEventListener("click", function () { sort(table, index, status); });
    });
    field.addEventListener("input", function () { filter(table, field.value, status); });
    filter(table, "", status);
  });
})();
