// Sorting and folding of the table of students. The page is whole without it.
(function () {
  "use strict";
  var table = document.getElementById("students-table");
  if (!table) { return; }
  var body = table.tBodies[0];
  var heads = Array.prototype.slice.call(table.tHead.rows[0].cells);

  function key(row, column) {
    var cell = row.cells[column];
    var given = cell.getAttribute("data-key");
    var text = given === null ? cell.textContent.trim() : given;
    var number = parseFloat(text);
    return given !== null && !isNaN(number) ? number : text;
  }

  function compare(a, b) {
    // What is missing goes last in either direction.
    if (typeof a !== typeof b) { return typeof a === "number" ? -1 : 1; }
    return typeof a === "number" ? a - b : a.localeCompare(b, undefined, { numeric: true });
  }

  function sortBy(column) {
    var head = heads[column];
    var down = head.getAttribute("aria-sort") === "ascending";
    heads.forEach(function (one) { one.removeAttribute("aria-sort"); });
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    Array.prototype.slice.call(body.rows)
      .map(function (row, place) { return { row: row, key: key(row, column), place: place }; })
      .sort(function (a, b) {
        var order = compare(a.key, b.key);
        var numbers = typeof a.key === typeof b.key;
        return (down && numbers ? -order : order) || a.place - b.place;
      })
      .forEach(function (one) { body.appendChild(one.row); });
  }

  heads.forEach(function (head, column) {
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.addEventListener("click", function () { sortBy(column); });
    head.textContent = "";
    head.appendChild(button);
  });

  var only = document.getElementById("only-open");
  document.getElementById("table-tools").hidden = false;
  only.addEventListener("change", function () {
    Array.prototype.forEach.call(body.rows, function (row) {
      row.hidden = only.checked && !row.hasAttribute("data-open");
    });
  });

  // A link into a folded part opens it.
  function open() {
    var target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    for (var one = target; one; one = one.parentElement) { if (one.tagName === "DETAILS") { one.open = true; } }
  }
  window.addEventListener("hashchange", open);
  open();

  // What is looked for is printed whole: there is no folding on paper.
  var list = document.getElementById("looked-for");
  if (list) {
    var was = list.open;
    window.addEventListener("beforeprint", function () { was = list.open; list.open = true; });
    window.addEventListener("afterprint", function () { list.open = was; });
  }

  // Only a part that does scroll need be a stop for the tabulator key.
  function stops() {
    Array.prototype.forEach.call(document.querySelectorAll(".scroll"), function (one) {
      if (one.scrollWidth > one.clientWidth) { one.tabIndex = 0; } else { one.removeAttribute("tabindex"); }
    });
  }
  window.addEventListener("resize", stops);
  stops();
}());
