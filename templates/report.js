// Which students the table shows, and in which order; folds. The page is whole without it.
(function () {
  "use strict";
  function list(nodes) { return Array.prototype.slice.call(nodes); }
  function all(selector) { return list(document.querySelectorAll(selector)); }
  function plain(text) { return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase(); }

  var table = document.getElementById("students-table");
  var body = table.tBodies[0];
  var rows = list(body.rows).map(function (row, place) {
    var is = (row.getAttribute("data-is") || "").split(" ");
    return { row: row, place: place, is: is, name: plain(row.cells[0].textContent) };
  });
  var heads = list(table.tHead.rows[0].cells);
  var tools = document.getElementById("table-tools");
  var find = document.getElementById("find");
  var back = document.getElementById("sheet-order");
  var buttons = all("[data-only]");
  var only = "all";
  var narrow = window.matchMedia("(max-width: 48rem)");

  function say(name, words) {
    var text = tools.getAttribute("data-" + name);
    Object.keys(words).forEach(function (key) { text = text.replace("{" + key + "}", words[key]); });
    document.getElementById("said").textContent = text;
  }

  // Columns keep their width while rows come and go: nothing jumps, and only those rows are laid out again.
  function hold(widths) {
    table.style.tableLayout = widths ? "fixed" : "";
    heads.forEach(function (head, column) { head.style.width = widths ? widths[column] + "px" : ""; });
  }

  function show() {
    if (!table.style.tableLayout && !narrow.matches) {
      hold(heads.map(function (head) { return head.getBoundingClientRect().width; }));
    }
    var wanted = plain(find.value.trim());
    var shown = 0;
    rows.forEach(function (one) {
      var there = (only === "all" || one.is.indexOf(only) >= 0) && one.name.indexOf(wanted) >= 0;
      if (one.row.hidden === there) { one.row.hidden = !there; }
      shown += there;
    });
    say("shown", { shown: shown, all: rows.length });
  }

  function key(row, column) {
    var cell = row.cells[column];
    var given = cell.getAttribute("data-key");
    var text = given === null ? cell.textContent.trim() : given;
    // The first number of a cell: 12 of "12 / 13", -0.4 of "−0.4 %", 25.08 of "(25,08)".
    var number = /[-−]?\d+(?:[.,]\d+)?/.exec(text);
    var numeric = given !== null || cell.className === "n";
    return numeric && number ? parseFloat(number[0].replace("−", "-").replace(",", ".")) : numeric ? "" : text;
  }

  function compare(a, b) {
    // What is missing goes last in either direction.
    if (typeof a !== typeof b) { return typeof a === "number" ? -1 : 1; }
    return typeof a === "number" ? a - b : a.localeCompare(b, undefined, { numeric: true });
  }

  function put(sorted) {
    var order = document.createDocumentFragment();
    sorted.forEach(function (one) { order.appendChild(one.row); });
    body.appendChild(order);
  }

  function sortBy(head, column) {
    var down = head.getAttribute("aria-sort") === "ascending";
    inSheetOrder();
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    back.disabled = false;
    put(rows.map(function (one) { return { row: one.row, place: one.place, key: key(one.row, column) }; })
      .sort(function (a, b) {
        var order = compare(a.key, b.key);
        return (down && typeof a.key === typeof b.key ? -order : order) || a.place - b.place;
      }));
    say("sorted", { column: head.textContent });
  }

  function inSheetOrder() {
    heads.forEach(function (one) { one.removeAttribute("aria-sort"); });
    back.disabled = true;
  }

  heads.forEach(function (head, column) {
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = head.textContent;
    button.addEventListener("click", function () { sortBy(head, column); });
    head.textContent = "";
    head.appendChild(button);
  });
  buttons.forEach(function (button) {
    button.addEventListener("click", function () {
      only = button.getAttribute("data-only");
      buttons.forEach(function (one) { one.setAttribute("aria-pressed", String(one === button)); });
      show();
    });
  });
  find.addEventListener("input", show);
  back.addEventListener("click", function () {
    inSheetOrder();
    put(rows);
    heads[0].firstChild.focus();
    say("order", {});
  });
  tools.hidden = false;

  // A link to a student, or into a folded part, opens it.
  function open() {
    var target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    for (var one = target; one; one = one.parentElement) { if (one.tagName === "DETAILS") { one.open = true; } }
    if (target && target.className === "inside") { target.scrollIntoView(); }
  }
  window.addEventListener("hashchange", open);
  open();

  var folds = document.getElementById("fold-tools");
  folds.hidden = false;
  all("[data-fold]").forEach(function (button) {
    button.addEventListener("click", function () {
      all("article > details").forEach(function (one) { one.open = button.getAttribute("data-fold") === "open"; });
    });
  });

  // What is looked for is printed whole: there is no folding on paper.
  var looked = document.getElementById("looked-for");
  if (looked) {
    var was = looked.open;
    window.addEventListener("beforeprint", function () { was = looked.open; looked.open = true; });
    window.addEventListener("afterprint", function () { looked.open = was; });
  }

  // On a narrow screen rows become cards: every cell then says which column it is of, and stays a cell to be read out.
  function label() {
    all("main table:not(.labelled):not(.against)").forEach(function (one) {
      var words = list(one.tHead.rows[0].cells).map(function (head) { return head.textContent; });
      one.setAttribute("role", "table");
      list(one.rows).forEach(function (row) {
        row.setAttribute("role", "row");
        list(row.cells).forEach(function (cell, column) {
          var head = cell.tagName === "TH";
          cell.setAttribute("role", !head ? "cell" : cell.scope === "col" ? "columnheader" : "rowheader");
          if (!head) { cell.setAttribute("data-label", words[column]); }
        });
      });
      one.classList.add("labelled");
    });
  }

  // Only a part that does scroll need be a stop for the tabulator key.
  function stops() {
    hold(null);
    if (narrow.matches) { label(); }
    // Looked up before anything is changed, and not in what a large class leaves unrendered: that takes seconds.
    var parts = all(".scroll").filter(function (one) { return !one.closest(".large"); });
    parts.map(function (one) { return one.scrollWidth > one.clientWidth + 1; }).forEach(function (scrolls, place) {
      parts[place].classList.toggle("fits", !scrolls);
      if (scrolls) { parts[place].tabIndex = 0; } else { parts[place].removeAttribute("tabindex"); }
    });
  }
  window.addEventListener("resize", stops);
  stops();
}());
