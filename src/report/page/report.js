(function () {
  "use strict";
  var holder = document.getElementById("history-data");
  if (!holder) { return; }
  var data = JSON.parse(holder.textContent);
  var shown = {};
  function num(value, digits) {
    var text = value.toFixed(digits);
    return data.comma ? text.replace(".", ",") : text;
  }
  function nearest(t) {
    var low = 0, high = data.time.length - 1;
    while (high - low > 1) {
      var middle = (low + high) >> 1;
      if (data.time[middle] < t) { low = middle; } else { high = middle; }
    }
    return t - data.time[low] < data.time[high] - t ? low : high;
  }
  function stageAt(t) {
    for (var i = 0; i < data.stages.length; i++) {
      if (t <= data.stages[i][1]) { return data.stages[i][2]; }
    }
    return "";
  }
  var figures = document.querySelectorAll("figure[data-frame]");
  Array.prototype.forEach.call(figures, function (figure) {
    var part = figure.getAttribute("data-frame").split(" ").map(Number);
    var svg = figure.querySelector("svg");
    var out = document.createElement("output");
    out.className = "read";
    out.textContent = figure.getAttribute("data-hint");
    figure.appendChild(out);
    var line = document.createElementNS("http://www.w3.org/2000/svg", "line");
    line.setAttribute("y1", part[2]);
    line.setAttribute("y2", part[3]);
    line.setAttribute("stroke", "#1c1f24");
    line.setAttribute("stroke-width", "3");
    line.setAttribute("visibility", "hidden");
    svg.appendChild(line);
    var at = 0;
    function show(index) {
      at = Math.max(0, Math.min(data.time.length - 1, index));
      var t = data.time[at];
      var x = part[0] + (t - part[4]) / (part[5] - part[4]) * (part[1] - part[0]);
      line.setAttribute("x1", x);
      line.setAttribute("x2", x);
      line.setAttribute("visibility", x < part[0] - 1 || x > part[1] + 1 ? "hidden" : "visible");
      var words = [num(t, 2) + " s", stageAt(t)];
      data.names.forEach(function (name, i) {
        var value = data.temps[i][at];
        if (shown[i] && value !== null) { words.push(name + " " + num(value, 0) + " " + data.unit); }
      });
      out.textContent = words.join("  \u00b7  ");
    }
    function point(event) {
      var box = svg.getBoundingClientRect();
      var view = svg.viewBox.baseVal;
      var x = (event.clientX - box.left) / box.width * view.width;
      if (x < part[0] || x > part[1]) { return; }
      show(nearest(part[4] + (x - part[0]) / (part[1] - part[0]) * (part[5] - part[4])));
    }
    svg.addEventListener("pointermove", point);
    svg.addEventListener("pointerdown", point);
    figure.tabIndex = 0;
    figure.addEventListener("keydown", function (event) {
      var step = event.shiftKey ? 20 : 1;
      if (event.key === "ArrowRight") { show(at + step); event.preventDefault(); }
      if (event.key === "ArrowLeft") { show(at - step); event.preventDefault(); }
    });
  });
  var box = document.getElementById("choose");
  function draw(i) {
    var all = document.querySelectorAll("figure[data-frame] g[data-series=\"" + i + "\"]");
    Array.prototype.forEach.call(all, function (g) {
      g.setAttribute("display", shown[i] ? "inline" : "none");
    });
  }
  data.names.forEach(function (name, i) {
    var group = document.querySelector("figure[data-frame] g[data-series=\"" + i + "\"]");
    if (!group) { return; }
    shown[i] = group.getAttribute("display") !== "none";
    var path = group.querySelector("polyline");
    var label = document.createElement("label");
    var check = document.createElement("input");
    check.type = "checkbox";
    check.checked = shown[i];
    check.addEventListener("change", function () { shown[i] = check.checked; draw(i); });
    label.appendChild(check);
    label.appendChild(document.createTextNode(" " + name));
    if (path) { label.style.borderBottomColor = path.getAttribute("stroke"); }
    box.appendChild(label);
  });
  box.hidden = false;
})();
