// Sliders of the report: margins from the polynomials that stand in the page.
"use strict";
(() => {
  const area = document.getElementById("explore");
  const data = JSON.parse(document.getElementById("explore-data").textContent);
  const shown = (value, decimals) => {
    const text = value.toFixed(decimals).replace("-", "\u2212");
    return data.comma ? text.replace(".", ",") : text;
  };
  const inputs = data.varied.map((of, k) => ({
    of, range: area.querySelector(`[data-range="${k}"]`), field: area.querySelector(`[data-field="${k}"]`),
    error: area.querySelector(`[data-error="${k}"]`), value: of.planned,
  }));
  function margins() {
    const tables = inputs.map(({ of, value }) => {
      const x = (2 * value - of.low - of.high) / (of.high - of.low);
      const values = [1, x];
      for (let k = 2; k <= data.highest; k += 1) values.push(2 * x * values[k - 1] - values[k - 2]);
      return values;
    });
    const terms = data.degrees.map((degrees) => degrees.reduce((product, degree, k) => product * tables[k][degree], 1));
    return data.coefficients.map((c) => c.reduce((sum, c, k) => sum + c * terms[k], 0));
  }
  function show() {
    const states = margins().map((margin, k) => {
      const error = data.error[k];
      const state = Math.abs(margin) <= error ? "open" : margin > 0 ? "holds" : "broken";
      const row = area.querySelector(`[data-limit="${k}"]`);
      row.querySelector(".margin").textContent = shown(Math.floor(margin * data.scale * 10) / 10, 1);
      row.querySelector(".state").textContent = data.words[state];
      row.dataset.state = state;
      row.querySelector(".state").className = `state ${state === "holds" ? "good" : state === "broken" ? "bad" : "watch"}`;
      return state;
    });
    const worst = ["broken", "open", "holds"].find((state) => states.includes(state));
    const status = document.getElementById("explore-answer");
    const text = `${data.words[worst]}: ${states.filter((state) => state === worst).length} / ${states.length}`;
    if (status.textContent !== text) status.textContent = text;
    status.dataset.state = worst;
  }
  function set(one, value) {
    one.value = value;
    one.range.value = value;
    show();
  }
  for (const one of inputs) {
    one.range.addEventListener("input", () => {
      one.error.textContent = "";
      one.field.removeAttribute("aria-invalid");
      one.field.value = shown(Number(one.range.value), 2).replace("\u2212", "-");
      set(one, Number(one.range.value));
    });
    one.field.addEventListener("change", () => {
      const text = one.field.value.trim().replace(",", ".").replace("\u2212", "-");
      const value = /^[+-]?(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN;
      const good = value >= one.of.low && value <= one.of.high;
      one.error.textContent = good ? "" : one.error.dataset.text;
      one.field.toggleAttribute("aria-invalid", !good);
      if (!good) one.field.setAttribute("aria-invalid", "true");
      if (good) set(one, value);
    });
  }
  area.hidden = false;
  show();
})();
