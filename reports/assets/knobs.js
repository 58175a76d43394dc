/* The knobs: a slider, a number and a meaning for each key of the case that one may turn.

   A slider's scale is fine about the value it had when the case was laid on the bench and coarse far away: where it
   rests, a step of the hand is a fifth of what it would be on an even scale. */
"use strict";
const Knobs = (() => {
  const { at, element, input, explained } = Parts;
  const FINE = 0.2, END = 1000, FINE_STEPS = 5, NEAR_STEPS = 10, PAGE_STEPS = 5;
  const rows = {};
  let turned = () => {}, case_ = null;

  /* ---- a slider's scale: positions 0 to END, even about home's own place --------------------------------- */
  const bent = x => FINE * x + (1 - FINE) * x ** 3;
  function unbent(y) {
    let low = 0, high = 1;
    for (let k = 0; k < 40; k += 1) {
      const x = (low + high) / 2;
      if (bent(x) < y) low = x; else high = x;
    }
    return (low + high) / 2;
  }
  const placeOf = (knob, value) => END * (Math.min(Math.max(value, knob.low), knob.high) - knob.low) / (knob.high - knob.low);
  function valueAt(knob, home, position) {
    const rest = placeOf(knob, home), up = position >= rest;
    const span = up ? END - rest : rest;
    if (span <= 0) return home;
    const side = up ? knob.high - home : knob.low - home;
    return rounded(knob, home, home + side * bent(Math.abs(position - rest) / span));
  }
  function positionAt(knob, home, value) {
    const rest = placeOf(knob, home), inside = Math.min(Math.max(value, knob.low), knob.high);
    const up = inside >= home, side = up ? knob.high - home : home - knob.low;
    if (side <= 0) return rest;
    return rest + (up ? END - rest : -rest) * unbent(Math.abs(inside - home) / side);
  }
  function rounded(knob, home, value) {
    const step = Math.abs(value - home) < NEAR_STEPS * knob.step ? knob.step / FINE_STEPS : knob.step;
    return Number((Math.round(value / step) * step).toFixed(6));
  }

  /* ---- a row --------------------------------------------------------------------------------------------- */
  function row(knob) {
    const id = knob.key.replace(/\W/g, "-"), line = element("div", "", { class: "knob" });
    const meaning = element("p", `${knob.hint || knob.label}. ${knob.low} to ${knob.high}${knob.unit ? ` ${knob.unit}` : ""} on the slider; Shift with an arrow key takes fine steps.`, { class: "meaning" });
    meaning.hidden = true;
    const name = explained(knob.label, meaning), label = `${knob.label}${knob.unit ? `, ${knob.unit}` : ""}`;
    const number = input({ id, type: "number", step: "any", "data-key": knob.key, "aria-label": label });
    const slider = input({ type: "range", min: 0, max: END, step: "any", "data-key": knob.key, "data-slider": "", "aria-label": `${label}, slider` });
    const tail = element("span", knob.key.includes("crown") ? "" : knob.unit, { class: "unit" });
    const mine = rows[knob.key] = { knob, number, slider, home: null };
    slider.addEventListener("input", () => set(mine, valueAt(knob, mine.home, Number(slider.value))));
    slider.addEventListener("keydown", event => stepped(mine, event));
    number.addEventListener("input", () => {
      if (number.value === "" || Number.isNaN(number.valueAsNumber)) return;
      rest(mine, number.valueAsNumber);
      turned(knob.key, number.valueAsNumber);
    });
    if (knob.key.includes("crown")) tail.append(flat(mine));
    line.append(name, slider, number, tail, meaning);
    return line;
  }
  function set(mine, value) {
    mine.number.value = value;
    mine.slider.setAttribute("aria-valuetext", `${value} ${mine.knob.unit}`);
    turned(mine.knob.key, value);
  }
  /* Lay the slider's scale about a value. */
  function rest(mine, value) {
    mine.home = Math.min(Math.max(value, mine.knob.low), mine.knob.high);
    mine.slider.value = placeOf(mine.knob, mine.home);
    mine.slider.setAttribute("aria-valuetext", `${value} ${mine.knob.unit}`);
  }
  function stepped(mine, event) {
    const { knob } = mine, step = event.shiftKey ? knob.step / FINE_STEPS : knob.step;
    const ways = { ArrowRight: step, ArrowUp: step, ArrowLeft: -step, ArrowDown: -step, PageUp: PAGE_STEPS * step, PageDown: -PAGE_STEPS * step, Home: -Infinity, End: Infinity };
    if (!(event.key in ways)) return;
    event.preventDefault();
    const now = mine.number.value === "" ? mine.home : mine.number.valueAsNumber;
    const value = Number(Math.min(Math.max(now + ways[event.key], knob.low), knob.high).toFixed(6));
    mine.slider.value = positionAt(knob, mine.home, value);
    set(mine, value);
  }
  function flat(mine) {
    const label = element("label", "", { class: "flat", title: "no radius: a straight line" });
    const box = input({ type: "checkbox", "data-flat": mine.knob.key, "aria-label": `${mine.knob.label}, flat` });
    box.addEventListener("change", () => {
      turned(mine.knob.key, box.checked ? "flat" : mine.number.valueAsNumber || mine.home || 6);
      fill(case_);
    });
    label.append(box, "flat");
    return label;
  }

  /* ---- all of them --------------------------------------------------------------------------------------- */
  function build(groups, hear) {
    turned = hear;
    for (const [group, list] of Object.entries(groups)) for (const knob of list) at(`${group}-knobs`).append(row(knob));
  }
  function valueOf(tables, key) {
    const [table, name] = key.split(".");
    return (tables[table] || {})[name];
  }
  /* Set every knob from a case; the scales are laid about its values. */
  function fill(tables) {
    case_ = tables;
    const drawn = "outline_mm" in tables.rim;
    for (const mine of Object.values(rows)) {
      const value = valueOf(tables, mine.knob.key), off = drawn && mine.knob.key.startsWith("rim.");
      mine.number.disabled = mine.slider.disabled = off || value === "flat";
      mine.number.value = typeof value === "number" && !off ? value : "";
      rest(mine, typeof value === "number" ? value : mine.home ?? mine.knob.low);
    }
    for (const box of document.querySelectorAll("[data-flat]")) {
      box.checked = valueOf(tables, box.dataset.flat) === "flat";
      box.disabled = drawn;
    }
  }
  /* Show another value at a knob that nobody turned; its scale stays. */
  function put(key, value) {
    const mine = rows[key];
    mine.number.value = value;
    mine.slider.value = positionAt(mine.knob, mine.home, value);
    mine.slider.setAttribute("aria-valuetext", `${value} ${mine.knob.unit}`);
  }
  const positionOf = (key, value) => positionAt(rows[key].knob, rows[key].home, value);
  function labelOf(key) {
    if (rows[key]) return rows[key].knob.label.toLowerCase();
    const words = { "lip.layer": "layers", "lip.type": "lip", "rim.outline_mm": "outline" };
    return words[key] || key.replace(/^\w+\./, "").replaceAll("_", " ");
  }
  return { build, fill, put, positionOf, labelOf };
})();
