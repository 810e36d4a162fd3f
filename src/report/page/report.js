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
    figure.setAttribute("role", "group");
    figure.setAttribute("aria-label", svg.getAttribute("aria-label"));
    figure.addEventListener("keydown", function (event) {
      var step = event.shiftKey ? 20 : 1;
      if (event.key === "ArrowRight") { show(at + step); event.preventDefault(); }
      if (event.key === "ArrowLeft") { show(at - step); event.preventDefault(); }
      if (event.key === "Home") { show(0); event.preventDefault(); }
      if (event.key === "End") { show(data.time.length - 1); event.preventDefault(); }
    });
  });
  var box = document.getElementById("choose");
  // a curve that is switched on takes the free place nearest to its end for its name
  function settle(i) {
    var names = document.querySelectorAll("figure[data-frame] g.name[data-series=\"" + i + "\"]");
    Array.prototype.forEach.call(names, function (name) {
      name.removeAttribute("transform");
      if (!shown[i]) { return; }
      var taken = [];
      Array.prototype.forEach.call(name.ownerSVGElement.querySelectorAll("g.name"), function (other) {
        if (other === name || other.getAttribute("display") === "none") { return; }
        var box = other.querySelector("text").getBBox();
        var move = /translate\(0 (-?[\d.]+)/.exec(other.getAttribute("transform") || "");
        taken.push(box.y + (move ? Number(move[1]) : 0));
      });
      var own = name.querySelector("text").getBBox().y;
      for (var far = 0; far < 900; far += 10) {
        var free = [far, -far].filter(function (by) {
          return taken.every(function (y) { return Math.abs(own + by - y) >= 28; });
        });
        if (free.length) { name.setAttribute("transform", "translate(0 " + free[0] + ")"); return; }
      }
    });
  }
  function draw(i) {
    var all = document.querySelectorAll("figure[data-frame] g[data-series=\"" + i + "\"]");
    Array.prototype.forEach.call(all, function (g) {
      g.setAttribute("display", shown[i] ? "inline" : "none");
    });
    settle(i);
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
  var zoom = holder.getAttribute("data-zoom").split("|");
  Array.prototype.forEach.call(document.querySelectorAll("figure"), function (figure) {
    var button = document.createElement("button");
    button.type = "button";
    button.className = "zoom";
    button.textContent = zoom[0];
    function toggle(open) {
      figure.classList.toggle("open", open);
      button.textContent = zoom[open ? 1 : 0];
    }
    button.addEventListener("click", function () { toggle(!figure.classList.contains("open")); });
    figure.addEventListener("keydown", function (event) {
      if (event.key === "Escape") { toggle(false); }
    });
    figure.appendChild(button);
  });
  if (window.IntersectionObserver) {
    var watch = new IntersectionObserver(function (entries) {
      entries.forEach(function (entry) {
        if (!entry.isIntersecting) { return; }
        Array.prototype.forEach.call(document.querySelectorAll("nav a"), function (link) {
          if (link.getAttribute("href") === "#" + entry.target.id) {
            link.setAttribute("aria-current", "true");
          } else {
            link.removeAttribute("aria-current");
          }
        });
      });
    }, { rootMargin: "-10% 0px -80% 0px" });
    Array.prototype.forEach.call(document.querySelectorAll("main > section"), function (section) { watch.observe(section); });
  }
})();
