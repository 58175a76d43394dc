/* A player's sheet: a form of what a fitter can learn across a table. What is left empty is not known. */
"use strict";
const Player = (() => {
  const { at, element, button, input, options } = Parts;
  const BENCH = "this-rim.toml";
  let form = null, changed = () => {}, rims = () => ({}), sheet = {};

  /* `hear(sheet)` after every change, `pinned()` gives the page's cases by name, `ask(what)` and `save()` send. */
  function build(from, hear, pinned, ask, save, kept) {
    [form, changed, rims, sheet] = [from, hear, pinned, kept || { instrument: from.instruments[0] }];
    at("ask-lip").addEventListener("click", () => ask("lip", "The player's lip"));
    at("ask-present").addEventListener("click", () => ask("present", "What the present rim does to this player"));
    at("ask-shortlist").addEventListener("click", () => ask("shortlist", "Three rims for this player"));
    at("save-sheet").addEventListener("click", save);
    at("add-press").addEventListener("click", () => { presses().push({ rim: BENCH }); fill(); changed(sheet); });
    fill();
  }
  const presses = () => (sheet.press = sheet.press || []);

  /* ---- fields -------------------------------------------------------------------------------------------- */
  function put(holder, key, value) {
    if (value === "" || value === undefined || Number.isNaN(value) || (Array.isArray(value) && !value.length)) delete holder[key];
    else holder[key] = value;
    for (const table of ["lips", "forces", "present"]) if (sheet[table] && !Object.keys(sheet[table]).length) delete sheet[table];
    changed(sheet);
  }
  const table = name => (sheet[name] = sheet[name] || {});
  function labelled(text, field) {
    const label = element("label", text, { class: "field" });
    label.append(field);
    return label;
  }
  function number(one, path, read, holder) {
    const made = input({ type: "number", step: "any", min: one.low, max: one.high, "data-sheet": `${path}.${one.key}`, placeholder: `${one.low} to ${one.high}` });
    made.value = read()[one.key] ?? "";
    made.addEventListener("input", () => put(holder(), one.key, made.valueAsNumber));
    return labelled(one.label, made);
  }
  function choice(text, key, names, first, value, hear) {
    const made = element("select", "", { "data-sheet": key });
    options(made, names, first);
    made.value = value ?? "";
    made.addEventListener("change", () => hear(made.value));
    return labelled(text, made);
  }
  function rimChoice(text, key, value, hear, first) {
    const made = choice(text, key, [...Object.keys(rims()), ...form.rims], first, value, hear);
    for (const one of made.querySelectorAll("option")) if (one.value === BENCH) one.textContent = "the rim on the bench";
    return made;
  }
  function several(legend, key) {
    const box = element("fieldset");
    box.append(element("legend", legend));
    for (const name of form[key]) {
      const tick = input({ type: "checkbox", "data-sheet": key });
      tick.checked = (sheet[key] || []).includes(name);
      tick.addEventListener("change", () => put(sheet, key, form[key].filter(one => (one === name ? tick.checked : (sheet[key] || []).includes(one)))));
      const label = element("label", "", { class: "tick" });
      label.append(tick, name);
      box.append(label);
    }
    return box;
  }
  function group(legend, ...fields) {
    const box = element("fieldset"), row = element("div", "", { class: "fields" });
    row.append(...fields);
    box.append(element("legend", legend), row);
    return box;
  }

  /* ---- the form ------------------------------------------------------------------------------------------ */
  function fill() {
    const alias = input({ type: "text", maxlength: 60, "data-sheet": "alias", placeholder: "no real name", autocomplete: "off" });
    alias.value = sheet.alias || "";
    alias.addEventListener("input", () => put(sheet, "alias", alias.value.trim()));
    at("sheet").replaceChildren(
      group("Who", labelled("Alias", alias), choice("Instrument", "instrument", form.instruments, undefined, sheet.instrument, value => put(sheet, "instrument", value)),
        rimChoice("Present rim", "present.rim", (sheet.present || {}).rim, value => put(table("present"), "rim", value), "not known")),
      several("Complaints", "complaints"), several("Wishes", "wishes"),
      group("Lips", ...form.lips.map(one => number(one, "lips", () => sheet.lips || {}, () => table("lips"))),
        choice("Thickness measured by", "lips.thickness_by", form.means, "not measured", (sheet.lips || {}).thickness_by, value => put(table("lips"), "thickness_by", value))),
      group("Force in playing, a kilogram on the scale being 9.8 N", ...form.forces.map(one => number(one, "forces", () => sheet.forces || {}, () => table("forces")))),
      ...(sheet.press || []).map(pressed));
    at("add-press").disabled = (sheet.press || []).length >= form.most_presses;
  }
  function pressed(press, n) {
    const out = button("Remove", `Remove press ${n + 1}`, () => { sheet.press.splice(n, 1); if (!sheet.press.length) delete sheet.press; fill(); changed(sheet); });
    const box = group(`Press ${n + 1}: what a known rim does under a known force`, rimChoice("Rim", `press[${n}].rim`, press.rim, value => put(press, "rim", value)),
      ...form.press.map(one => number(one, `press[${n}]`, () => press, () => press)), out);
    box.dataset.sheet = `press[${n}]`;
    return box;
  }

  /* ---- what is wrong, at its field ----------------------------------------------------------------------- */
  function clean() {
    at("sheet-faults").replaceChildren();
    for (const field of document.querySelectorAll("#sheet [aria-invalid]")) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
    for (const told of document.querySelectorAll("#sheet .wrong")) told.remove();
  }
  function faults(message) {
    clean();
    at("sheet-box").open = true;
    for (const [n, fault] of message.faults.entries()) {
      const text = `got ${fault.got}, allowed ${fault.allowed}${fault.hint ? ` (${fault.hint})` : ""}`;
      const fields = [...document.querySelectorAll(`#sheet [data-sheet="${CSS.escape(fault.key)}"]`)];
      const told = element("small", text, { class: "wrong", id: `wrong-${n}` });
      if (!fields.length) { at("sheet-faults").append(element("p", `${fault.key}: ${text}`)); continue; }
      for (const field of fields) { field.setAttribute("aria-invalid", "true"); field.setAttribute("aria-describedby", told.id); }
      (fields[0].closest("label") || fields[0]).append(told);
    }
    const [first] = document.querySelectorAll("#sheet [aria-invalid]"), count = message.faults.length;
    at("sheet-faults").prepend(element("p", count === 1 ? "One value of the sheet does not fit." : `${count} values of the sheet do not fit.`));
    if (first && first.focus) first.focus();
  }

  /* The fitted lip: a touch lays it on the bench. */
  function offer(lip, lay) {
    const row = element("div", "", { class: "row" });
    row.append(button("Lay this lip on the bench, held still", "Lay the player's lip on the bench, held still", () => lay(lip.still, lip.words)),
      button("Lay it there playing loud", "Lay the player's lip on the bench, playing loud", () => lay(lip.playing, lip.words)));
    at("ask-answer").append(row);
  }
  /* The rims found: each may be laid on the bench, or handed over. */
  function choose(kept, lay, hand) {
    for (const { rim, kind } of kept.rims) {
      const row = element("div", "", { class: "row" });
      row.append(button(`Lay the ${kind} rim on the bench`, `Lay the ${kind} rim on the bench`, () => lay(kept.cases[rim])),
        button(`Hand over the ${kind} rim`, `Write all that player and shop need of the ${kind} rim`, () => hand(rim, kind)));
      at("ask-answer").append(row);
    }
  }
  return { build, fill, clean, faults, offer, choose, BENCH };
})();
