"use strict";
(function () {
  // Values of a plot: a slider for keys and screen readers, the pointer for everybody else. All of them
  // stand in the page's tables, which this only reads.
  function made(name, properties) {
    return Object.assign(document.createElement(name), properties);
  }
  document.querySelectorAll("figure.chart[data-table]").forEach(function (figure) {
    var table = document.getElementById(figure.dataset.table);
    var plot = figure.querySelector(".plot");
    if (!table || !plot) return;
    var heads = Array.from(table.tHead.rows[0].cells, function (cell) { return cell.textContent; });
    var rows = Array.from(table.tBodies[0].rows);
    var columns = figure.dataset.columns.split(" ").map(Number);
    var from = Number(figure.dataset.from), to = Number(figure.dataset.to);
    var cursor = plot.querySelector(".cursor");
    function show(index) {
      var row = rows[index];
      var middle = (Number(row.dataset.from) + Number(row.dataset.to)) / 2;
      var share = Math.min(1, Math.max(0, (middle - from) / (to - from)));
      cursor.setAttribute("x1", share * 100 + "%");
      cursor.setAttribute("x2", share * 100 + "%");
      plot.classList.add("on");
      var said = heads[0] + " " + row.cells[0].textContent + "; " + columns.map(function (column) {
        return heads[column] + ": " + row.cells[column].textContent;
      }).join("; ");
      output.textContent = said;
      slider.setAttribute("aria-valuetext", said);
      slider.value = index;
    }
    var slider = made("input", { type: "range", min: 0, max: rows.length - 1, value: 0, id: figure.id + "-reader" });
    var label = made("label", { htmlFor: slider.id, textContent: "Read values" });
    var output = made("output", { htmlFor: slider.id });
    var reader = made("div", { className: "reader" });
    reader.append(label, slider, output);
    figure.insertBefore(reader, figure.querySelector("figcaption"));
    slider.addEventListener("input", function () { show(Number(slider.value)); });
    slider.addEventListener("focus", function () { show(Number(slider.value)); });
    plot.addEventListener("pointermove", function (event) {
      var box = plot.getBoundingClientRect();
      var at = from + (to - from) * (event.clientX - box.left) / box.width;
      var best = 0, least = Infinity;
      rows.forEach(function (row, index) {
        var off = Math.max(Number(row.dataset.from) - at, at - Number(row.dataset.to), 0);
        if (off < least) { least = off; best = index; }
      });
      show(best);
    });
  });

  // A filter of findings, where there are some to choose from.
  var section = document.getElementById("findings");
  var findings = section ? Array.from(section.querySelectorAll(".finding")) : [];
  if (findings.length < 2) return;
  var tools = made("div", { className: "tools" });
  var choice = made("select", { id: "filter-class" });
  choice.append(made("option", { value: "", textContent: "every class" }));
  findings.map(function (one) { return one.dataset.class; })
    .filter(function (one, at, all) { return all.indexOf(one) === at; })
    .forEach(function (one) { choice.append(made("option", { value: one, textContent: one })); });
  var words = made("input", { id: "filter-words", type: "search" });
  var count = made("output", { id: "filter-count" });
  tools.append(
    made("label", { htmlFor: choice.id, textContent: "Show" }), choice,
    made("label", { htmlFor: words.id, textContent: "with the words" }), words, count);
  section.insertBefore(tools, findings[0]);
  function filter() {
    var wanted = words.value.toLowerCase();
    var shown = findings.filter(function (one) {
      var fits = (!choice.value || one.dataset.class === choice.value)
        && one.textContent.toLowerCase().includes(wanted);
      one.hidden = !fits;
      return fits;
    });
    count.textContent = shown.length + " of " + findings.length + " entries";
  }
  choice.addEventListener("change", filter);
  words.addEventListener("input", filter);
  filter();
}());
