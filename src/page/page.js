// The page: holds the numbers that are being tried, asks for what comes of them, shows it.
"use strict";
(() => {
  const config = JSON.parse(document.getElementById("config").textContent);
  const $ = (id) => document.getElementById(id);
  const say = (key) => config.words[key] || key;
  const name = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");
  const REST_MS = 250, TYPING_MS = 500, AGAIN_MS = 600, STORE = location.pathname;

  // Inputs: what the file has, what is being tried, what was tried before.
  const rows = new Map();
  let changes = new Map(), pinned = null, past = [], last = null, gesture = null, map = null;

  const shown = (value) => {
    const text = String(value);
    return config.comma ? text.replace(".", ",") : text;
  };
  const read = (text) => {
    const plain = text.trim().replace(",", ".");
    return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain) ? Number(plain) : NaN;
  };

  for (const row of document.querySelectorAll(".row")) {
    const [range, field] = [row.querySelector("input[type=range]"), row.querySelector("input[type=text]")];
    const data = row.dataset;
    rows.set(data.path, {
      row, range, field, error: row.querySelector(".error"), value: Number(field.value), file: Number(field.value),
      low: Number(data.low), high: Number(data.high), open: "open" in data, allowed: row.querySelector(".range").textContent.trim(),
    });
    field.value = shown(field.value);
  }

  function put(one, value) {
    one.value = value;
    if (value < Number(one.range.min)) one.range.min = value;
    if (value > Number(one.range.max)) one.range.max = value;
    one.range.value = value;
    if (document.activeElement !== one.field) one.field.value = shown(value);
  }

  function fault(one, text) {
    one.error.textContent = text;
    one.field.toggleAttribute("aria-invalid", false);
    if (text) one.field.setAttribute("aria-invalid", "true");
    else one.field.removeAttribute("aria-invalid");
    for (let at = one.row.parentElement; text && at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
  }

  function remember() {
    past.push(new Map(changes));
    if (past.length > 200) past.shift();
  }

  function change(path, value) {
    const one = rows.get(path);
    if (value === one.value) return;
    if (gesture !== path) remember();
    gesture = path;
    last = path;
    if (value === one.file) changes.delete(path);
    else changes.set(path, value);
    fault(one, "");
    put(one, value);
    after();
  }

  function restore(snapshot) {
    changes = new Map(snapshot);
    gesture = null;
    for (const [path, one] of rows) {
      put(one, changes.has(path) ? changes.get(path) : one.file);
      one.field.value = shown(one.value);
      fault(one, "");
    }
    after();
  }

  function after() {
    for (const [path, one] of rows) one.row.classList.toggle("changed", changes.has(path));
    $("undo").disabled = past.length === 0;
    $("reset").disabled = $("save").disabled = changes.size === 0;
    const list = [...changes].map(([path, value]) => `${path} = ${shown(value)}`);
    $("changed").textContent = list.length ? `${say("page.changed")} ${list.join("; ")}` : "";
    try {
      sessionStorage.setItem(STORE, JSON.stringify({ changes: [...changes], pinned }));
    } catch { /* without a store a page loaded again begins with the file */ }
    ask();
  }

  // Questions: one quick one at a time, the newest; the settled one when the hand rests.
  let version = 0, asking = false, again = false, resting = 0;

  async function post(what, more = {}) {
    const body = JSON.stringify({ page: name, changes: Object.fromEntries(changes), pinned, map, ...more });
    for (;;) {
      let reply;
      try {
        reply = await fetch(what, { method: "POST", headers: { "content-type": "application/json" }, body });
      } catch {
        $("message").textContent = say("page.lost");
        return null;
      }
      if (reply.status === 503) {
        $("message").textContent = say("page.busy");
        await new Promise((done) => setTimeout(done, AGAIN_MS));
        continue;
      }
      const kind = reply.headers.get("content-type") || "";
      if (kind.startsWith("application/json")) return reply.json();
      const text = await reply.text();
      if (reply.ok) return { text };
      return { problems: [{ message: text }] };
    }
  }

  async function ask() {
    version += 1;
    clearTimeout(resting);
    again = true;
    if (asking) return;
    asking = true;
    while (again) {
      again = false;
      const of = version;
      const got = await post("answer", { settle: false });
      if (got && !got.superseded && (of === version || !got.problems)) show(got, of);
    }
    asking = false;
    resting = setTimeout(settle, REST_MS);
  }

  async function settle() {
    const of = version;
    $("grid").textContent = `${$("grid").textContent.split(" – ")[0]} – ${say("page.working")}`;
    const got = await post("answer", { settle: true });
    if (got && !got.superseded && of === version) show(got, of);
  }

  function problems(list) {
    $("message").textContent = "";
    for (const problem of list) {
      const text = [problem.message, problem.help].filter(Boolean).join("; ");
      const one = rows.get(problem.path || last);
      if (one) fault(one, text);
      $("message").textContent = text;
    }
    document.body.classList.add("stale");
  }

  function fill(id, html) {
    const content = $(id).matches(".content") ? $(id) : $(id).querySelector(".content");
    content.innerHTML = html || "";
    content.setAttribute("aria-busy", "false");
    content.classList.remove("stale");
  }

  // What comes of the numbers as they were at a version. Only the present ones say what the file has.
  function show(got, of) {
    if (got.problems) return problems(got.problems);
    document.body.classList.remove("stale");
    $("message").textContent = "";
    for (const one of rows.values()) if (read(one.field.value) === one.value) fault(one, "");
    const bar = document.querySelector(".bar");
    bar.classList.toggle("holds", got.limits > 0 && got.broken === 0);
    bar.classList.toggle("breaks", got.broken > 0);
    if ($("headline").textContent !== got.headline) $("headline").textContent = got.headline;
    $("grid").textContent = got.settled ? `${say("page.settled")}: ${got.resolution}` : say("page.quick");
    document.body.dataset.state = got.settled ? "settled" : "quick";
    for (const id of ["verdict", "history", "limits", "section", "energy", "moments", "warnings"]) fill(id, got.html[id]);
    if (got.settled) fill("times", got.html.times);
    else $("times").querySelector(".content").classList.add("stale");
    $("beside").hidden = !got.html.beside;
    fill("beside", got.html.beside);
    for (const [path, value] of of === version ? Object.entries(got.numbers) : []) {
      const one = rows.get(path);
      if (one && !changes.has(path) && document.activeElement !== one.field) {
        put(one, value);
        if (changes.size === 0) one.file = value;
      }
    }
    const titles = JSON.stringify(got.maps);
    if ($("map").dataset.titles !== titles) {
      $("map").dataset.titles = titles;
      $("map").replaceChildren(...got.maps.map((title, k) => new Option(title, k)));
    }
    $("map").value = String(got.map);
    for (const panel of document.querySelectorAll(".panel")) {
      panel.classList.toggle("stale", panel.dataset.of !== undefined && panel.dataset.of !== key());
    }
  }

  const key = () => JSON.stringify([...changes]);

  // Hands on inputs.
  let typing = 0;
  function typed(path) {
    clearTimeout(typing);
    const one = rows.get(path);
    const value = read(one.field.value);
    last = path;
    if (Number.isNaN(value)) return fault(one, `${say("page.no_number")} ${say("inputs.allowed")}: ${one.allowed}`);
    if (value > one.high || value < one.low || (one.open && value === one.low))
      return fault(one, `${say("page.outside")} ${say("inputs.allowed")}: ${one.allowed}`);
    fault(one, "");
    gesture = null;
    change(path, value);
    gesture = null;
  }
  for (const [path, one] of rows) {
    one.range.addEventListener("input", () => {
      change(path, Number(one.range.value));
      one.field.value = shown(one.value);
    });
    one.range.addEventListener("change", () => { gesture = null; });
    one.field.addEventListener("input", () => {
      clearTimeout(typing);
      typing = setTimeout(() => typed(path), TYPING_MS);
    });
    one.field.addEventListener("change", () => typed(path));
    one.field.addEventListener("keydown", (event) => { if (event.key === "Enter") typed(path); });
  }
  $("find").addEventListener("input", () => {
    const wanted = $("find").value.trim().toLowerCase();
    for (const [path, one] of rows) one.row.hidden = wanted !== "" && !path.toLowerCase().includes(wanted);
    for (const group of document.querySelectorAll(".group, .others")) {
      const some = group.querySelector(".row:not([hidden])") !== null;
      group.hidden = !some;
      if (wanted && some) group.open = true;
    }
  });

  // Acts.
  $("undo").addEventListener("click", () => past.length && restore(past.pop()));
  $("reset").addEventListener("click", () => { remember(); restore([]); });
  document.addEventListener("keydown", (event) => {
    const text = event.target.matches("input[type=text], input[type=search]");
    if ((event.ctrlKey || event.metaKey) && event.key === "z" && !text && past.length) {
      event.preventDefault();
      restore(past.pop());
    }
  });
  function pin(line) {
    pinned = line;
    $("pin").setAttribute("aria-pressed", String(pinned !== null));
    $("pin").textContent = say(pinned === null ? "page.pin" : "page.unpin");
  }
  $("pin").addEventListener("click", () => {
    pin(pinned === null ? Object.fromEntries(changes) : null);
    after();
  });
  $("map").addEventListener("change", () => { map = Number($("map").value); ask(); });
  $("save").addEventListener("click", async () => {
    const sent = new Map(changes);
    const got = await post("save");
    if (!got) return;
    if (!got.saved) return problems(got.problems || []);
    // What was moved while the file was written is still to be saved, also where it was moved back.
    for (const [path, value] of sent) {
      const one = rows.get(path);
      one.file = value;
      if (one.value === value) changes.delete(path);
      else changes.set(path, one.value);
    }
    past = [];
    if (pinned !== null) pin(null);
    after();
    $("changed").textContent = `${say("page.saved")} ${$("changed").textContent}`.trim();
  });
  async function keep(what, file, kind) {
    const got = await post(what);
    if (!got) return;
    if (got.superseded) {
      $("message").textContent = say("page.superseded");
      return;
    }
    if (got.text === undefined) return problems(got.problems || []);
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([got.text], { type: kind }));
    link.download = file;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
  const stem = config.file.replace(/\.toml$/, "");
  $("line").addEventListener("click", () => keep("line", config.file, "application/toml"));
  $("report").addEventListener("click", () => keep("report", `${stem}.report.html`, "text/html"));
  $("reload").addEventListener("click", async () => {
    const got = await post("reload");
    if (got && got.read) location.reload();
    else if (got) problems(got.problems || []);
  });

  // Panels: taken up, looked after, cancelled.
  for (const panel of document.querySelectorAll(".panel")) {
    const part = (selector) => panel.querySelector(selector);
    let work = null;
    const cancel = part(".cancel");
    if (cancel) cancel.addEventListener("click", () => work !== null && post("stop", { work }));
    const busy = (is) => {
      part(".ask").disabled = is;
      part("progress").hidden = !is;
      if (cancel) cancel.hidden = !is;
    };
    part(".ask").addEventListener("click", async () => {
      const samples = panel.querySelector("#samples");
      if (samples && !/^\s*\d+\s*$/.test(samples.value)) {
        part(".state").textContent = say("page.no_number");
        return;
      }
      const more = { panel: panel.dataset.panel, samples: samples ? Number(samples.value) : null };
      panel.dataset.of = key();
      busy(true);
      part(".state").textContent = say("page.working");
      let got = await post("panel", more);
      while (got && got.work !== undefined && got.html === undefined && !got.problems && !got.stopped) {
        work = got.work;
        if (got.of > 0) {
          part("progress").max = got.of;
          part("progress").value = got.done;
          part(".state").textContent = `${got.done} / ${got.of}`;
        }
        got = await post("work", { work });
      }
      work = null;
      part("progress").removeAttribute("value");
      busy(false);
      part(".state").textContent = !got ? "" : got.stopped ? say("page.stopped") : "";
      if (got && got.problems) part(".state").textContent = got.problems.map((p) => p.message).join(" ");
      part(".content").innerHTML = (got && got.html) || "";
      panel.classList.toggle("stale", panel.dataset.of !== key());
    });
  }

  // What was being tried before the page was loaded again.
  try {
    const kept = JSON.parse(sessionStorage.getItem(STORE) || "{}");
    for (const [path, value] of kept.changes || []) {
      const one = rows.get(path);
      if (one && one.file !== value) {
        changes.set(path, value);
        put(one, value);
      }
    }
    if (kept.pinned) pin(kept.pinned);
  } catch { /* what cannot be read is not restored */ }
  after();
})();
