/* The bench: knobs on the left, what the lip would feel on the right, a line of talk to the program behind it. */
"use strict";
(() => {
  const START = JSON.parse(document.getElementById("start").textContent);
  const at = id => document.getElementById(id);
  const LIVE_LOOK = START.looks[0];
  const MOST_PINS = 5;
  const OWN = "layers of its own";
  let state = remembered() || { case: structuredClone(START.case), pins: [] };
  let turn = 0, waiting = false, due = false, line = null, live = null, nextPin = state.pins.length + 1;

  /* ---- what survives a reload ------------------------------------------------------------------------- */
  function remembered() {
    try { return JSON.parse(sessionStorage.getItem("labrum-bench")); } catch { return null; }
  }
  function remember() {
    try { sessionStorage.setItem("labrum-bench", JSON.stringify(state)); } catch { /* a full store costs the memory only */ }
  }

  /* ---- the line ------------------------------------------------------------------------------------------ */
  function connect() {
    line = new WebSocket(`ws://${location.host}/talk`);
    line.addEventListener("open", () => { waiting = false; show(); });
    line.addEventListener("message", event => hear(JSON.parse(event.data)));
    line.addEventListener("close", () => {
      tell("lost", "The program behind this page does not answer. It is tried again every second.");
      reportEnds("");
      setTimeout(connect, 1000);
    });
  }
  const open = () => line && line.readyState === WebSocket.OPEN;
  function say(message) {
    if (open()) line.send(JSON.stringify(message));
  }

  /* Ask for what the knobs say now. While an answer to the last question is on its way the next one waits, so that
     a quick hand does not build up a queue. */
  function show() {
    remember();
    document.body.dataset.asking = "";  // what is shown belongs to the last question, not to this one
    if (!open()) return;
    if (waiting) { due = true; return; }
    waiting = true;
    turn += 1;
    performance.mark(`turn-${turn}-asked`);
    say({ do: "show", turn, case: state.case });
  }
  function answered() {
    waiting = false;
    if (due) { due = false; show(); } else delete document.body.dataset.asking;
  }

  /* ---- what is heard ------------------------------------------------------------------------------------- */
  const HEARD = {
    outline: firstOutline, estimate: newPicture, unchecked: newPicture, solved: newPicture, progress, stopped, failed, faults, cancelled,
    opened, traced, saved, trouble: m => tell("faulty", m.words),
    "report progress": reportProgress, "report failed": m => reportEnds(`No report: ${m.words}.`), report: reportDone,
  };
  function hear(message) {
    // An unchecked press may come a few moves late while a knob is turning; it is still the best there is to show.
    const late = message.say === "unchecked" && live && !live.solved && message.turn > (live.from || 0);
    if (message.turn !== undefined && message.turn !== null && message.turn !== turn && !late) return;
    HEARD[message.say](message);
  }

  function newPicture(message) {
    const solved = message.say === "solved";
    if (message.say === "unchecked" && live && live.solved && live.turn === message.turn) return;
    answeredFaults();
    live = { ...(solved ? message : followed(message)), solved, name: state.case.title || "this rim" };
    if (solved) {
      const times = message.remembered ? "solved before and remembered" : `solved in ${Labrum.number(message.result.solve_seconds)} s`;
      tell("solved", `${times}; estimated error of the peak ± ${message.result.peak_pressure_error_percent.toFixed(1)} %`);
      busy(null);
    } else if (message.say === "unchecked") {
      tell("unchecked", "Pressed on a coarse grid that nobody has checked. The true solve follows.");
      busy(at("progress").value);
    } else {
      const origin = live.from ? "From a press a moment ago" : `From the nearest solved case${insteadOf(message.instead)}`;
      tell("estimate", `${origin}. The dashed line is your rim. The true solve follows.`);
      busy(0);
    }
    draw();
    requestAnimationFrame(() => performance.mark(`turn-${message.turn}-${message.say}`));
    if (message.say !== "unchecked") answered();
  }

  /* While a knob turns, the last unchecked press is nearer than any solved case: keep it, under the new rim's line. */
  function followed(message) {
    if (message.say === "unchecked") return { ...message, from: message.turn };
    if (!live || !live.from) return message;
    const lift = message.picture.sink_mm - live.picture.sink_mm;
    return { ...live, say: "estimate", turn: message.turn, rim: message.rim.map(([r, z]) => [r, z + lift]) };
  }

  function insteadOf(instead) {
    const few = instead.slice(0, 2).map(([key, want, got]) => `${labelOf(key)} ${got} instead of ${want}`);
    const more = instead.length > 2 ? ` and ${instead.length - 2} more` : "";
    return few.length ? `: ${few.join(", ")}${more}` : "";
  }

  function firstOutline(message) {
    answeredFaults();
    live = null;
    tell("solving", "No solved case is near. The rim is drawn above the resting lip until the solve ends.");
    const right = Math.max(...message.rim.map(p => p[0]));
    const picture = { rim: message.rim, layers: [{ name: "lip", loops: [[[0, -message.thickness_mm], [right + 12, -message.thickness_mm], [right + 12, 0], [0, 0]]] }],
      past_bite: [], bite: [0, 0], band: [], profile: [[0, 0]], thickness_mm: message.thickness_mm, right_mm: right };
    Labrum.section(at("section"), picture, { label: "The rim above the resting lip, not yet solved" });
    Labrum.pressure(at("pressure"), pinnedSeries(), "No pressure yet");
    numbers();
    busy(0);
    requestAnimationFrame(() => performance.mark(`turn-${turn}-outline`));
    answered();
  }

  function progress(message) {
    if (live && live.solved) return;
    at("doing").textContent = message.words;
    busy(message.share);
  }
  function stopped(message) {
    live = null;
    tell("stopped", `No equilibrium: stopped at ${Labrum.number(message.reached_n)} N of ${Labrum.number(message.force_n)} N. ` +
      `Likely cause: ${message.cause}. What to try: ${message.advice}.`);
    busy(null);
    nothing("No result: the solve did not converge");
  }
  function failed(message) {
    tell("failed", `A fault of ours: ${message.words}`);
    busy(null);
    if (waiting) answered();
  }
  function cancelled() { tell("waiting", "The solve was cancelled. Turn a knob to go on."); busy(null); }

  function faults(message) {
    answeredFaults();
    const list = document.createElement("ul");
    for (const fault of message.faults) {
      const row = document.createElement("li");
      const place = fault.line ? `${fault.file}, line ${fault.line}: ` : fault.file && fault.file !== "this page" ? `${fault.file}: ` : "";
      row.textContent = `${place}${labelOf(fault.key)}: got ${fault.got}, allowed ${fault.allowed}${fault.hint ? ` (${fault.hint})` : ""}`;
      list.append(row);
      for (const field of document.querySelectorAll(`[data-key="${CSS.escape(fault.key)}"]`)) {
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", "faults");
      }
    }
    at("faults").replaceChildren(list);
    if (message.turn === undefined || message.turn === null) {
      if (!live || !live.solved) return;
      at("told").textContent = "The file could not be used; the rim below is the one from before.";
      return;
    }
    live = null;
    tell("faulty", message.faults.length === 1 ? "One value does not fit." : `${message.faults.length} values do not fit.`);
    busy(null);
    nothing("No result: the values do not fit");
    answered();
  }
  function answeredFaults() {
    at("faults").replaceChildren();
    for (const field of document.querySelectorAll("[aria-invalid]")) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }

  function nothing(label) {
    at("section").replaceChildren();
    at("section").setAttribute("aria-label", label);
    Labrum.pressure(at("pressure"), pinnedSeries(), label);
    numbers();
  }

  /* ---- state in words --------------------------------------------------------------------------------------- */
  function tell(name, words) {
    at("chip").dataset.state = name;
    at("chip").textContent = { faulty: "does not fit", stopped: "not converged", lost: "no answer", failed: "no result" }[name] || name;
    at("told").textContent = words;
    // Who listens instead of looking hears how it ended, not every turn of a knob.
    if (!["estimate", "unchecked", "solving", "waiting"].includes(name)) at("spoken").textContent = `${at("chip").textContent}: ${words}`;
  }
  function busy(share) {
    at("progress").hidden = at("cancel").hidden = share === null;
    if (share !== null) at("progress").value = share;
    else at("doing").textContent = "";
    at("pin").disabled = !(live && live.solved) || state.pins.length >= MOST_PINS;
    at("report").disabled = !(live && live.solved);
  }

  /* ---- pictures and numbers --------------------------------------------------------------------------------- */
  function draw() {
    const label = Labrum.spoken(live.solved ? live.name : `Estimate for ${live.name}`, live.result), faded = live.say === "estimate";
    const scale = Labrum.section(at("section"), live.picture, { faded, rim: live.solved ? null : live.rim, label });
    at("scale").textContent = `, ${Labrum.number(scale)} kPa per mm`;
    const mine = { name: live.name, profile: live.picture.profile, look: LIVE_LOOK, faded, fill: true };
    Labrum.pressure(at("pressure"), [...pinnedSeries(), mine], label);
    numbers();
  }
  const lookOf = number => START.looks[1 + (number % (START.looks.length - 1))];
  function pinnedSeries() {
    return state.pins.map((pin, n) => ({ name: pin.name, profile: pin.shown.picture.profile, look: lookOf(n) }));
  }

  function numbers() {
    const columns = state.pins.map((pin, n) => ({ name: pin.name, result: pin.shown.result, look: lookOf(n), solved: true }));
    if (live) columns.push({ name: live.solved ? "live" : `live, ${live.say}`, result: live.result, look: LIVE_LOOK, solved: live.solved });
    const head = document.createElement("tr");
    head.append(cell("th", "Measure", { scope: "col" }), ...columns.map(column => {
      const made = cell("th", "", { scope: "col" });
      made.append(sample(column.look), column.name);
      return made;
    }));
    at("numbers").tHead.replaceChildren(head);
    const rows = [];
    for (const [heading, entries] of START.groups) {
      const group = document.createElement("tr");
      group.className = "group";
      group.append(cell("th", heading, { scope: "colgroup", colspan: columns.length + 1 }));
      rows.push(group, ...entries.map(entry => measureRow(entry, columns)));
    }
    at("numbers").tBodies[0].replaceChildren(...rows);
  }

  function measureRow([name, unit, label, words], columns) {
    const row = document.createElement("tr");
    row.append(cell("th", unit ? `${label}, ${Labrum.unit(unit)}` : label, { scope: "row", title: words }));
    columns.forEach((column, n) => {
      const value = column.result[name];
      const made = cell("td", value === undefined ? "…" : (column.solved ? "" : "≈ ") + Labrum.number(value), { "data-measure": name });
      if (!column.solved) made.className = "estimate";
      else if (doubt(column.result, name) > 0) made.append(error(doubt(column.result, name)));
      if (n > 0) made.append(...mark(columns[0].result, column.result, name));
      row.append(made);
    });
    return row;
  }

  /* The estimated error of a measure, in its own unit; not a number where there is none. */
  function doubt(result, name) {
    const error = (result.errors || {})[name];
    return typeof error === "number" ? error : NaN;
  }

  function error(size) {
    const made = document.createElement("span");
    made.className = "error";
    made.textContent = ` ± ${Number(size.toPrecision(1))}`;
    return made;
  }

  function mark(first, other, name) {
    const [a, b] = [first[name], other[name]];
    if (typeof a !== "number" || typeof b !== "number") return [];
    if (!(Math.abs(b - a) > doubt(first, name) + doubt(other, name))) return [];
    const percent = 100 * (b / a - 1), more = b > a;
    const size = START.intervals.includes(name) || Math.abs(a) < 1e-9 ? Math.abs(b - a).toPrecision(2) : `${Math.abs(percent).toFixed(Math.abs(percent) < 9.95 ? 1 : 0)} %`;
    const made = document.createElement("span");
    made.className = `mark ${more ? "more" : "less"}`;
    made.textContent = ` ${more ? "▲ +" : "▼ −"}${size}`;
    return [made];
  }

  function cell(tag, text, attributes) {
    const made = document.createElement(tag);
    made.textContent = text;
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }
  function sample(look) {
    const holder = document.createElement("span");
    holder.className = "line";
    holder.innerHTML = `<svg width="30" height="8" viewBox="0 0 30 8" aria-hidden="true"><path d="M0,4H30" fill="none" stroke="${look.colour}" stroke-width="3" stroke-dasharray="${look.dashes}"/></svg>`;
    return holder;
  }

  /* ---- pins -------------------------------------------------------------------------------------------------- */
  at("pin").addEventListener("click", () => {
    const { picture, result } = live;
    state.pins.push({ name: `pin ${nextPin}`, title: live.name, case: structuredClone(state.case), shown: { picture, result } });
    nextPin += 1;
    remember(); pins(); draw(); busy(at("progress").hidden ? null : at("progress").value);
  });
  function pins() {
    at("pins").replaceChildren(...state.pins.map((pin, n) => {
      const box = document.createElement("article");
      box.className = "pin";
      const heading = document.createElement("h3");
      heading.append(sample(lookOf(n)), `${pin.name}: ${pin.title}`);
      const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      Labrum.section(svg, pin.shown.picture, { bare: true, label: Labrum.spoken(pin.name, pin.shown.result) });
      const row = document.createElement("div");
      row.className = "row";
      row.append(button("Back to the knobs", `Back to the knobs: ${pin.name}`, () => { state.case = structuredClone(pin.case); fill(); show(); }),
        button("Unpin", `Unpin ${pin.name}`, () => { state.pins.splice(n, 1); remember(); pins(); live ? draw() : nothing("No result"); busy(at("progress").hidden ? null : at("progress").value); }));
      box.append(heading, svg, row);
      return box;
    }));
  }
  function button(text, label, pressed) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", label);
    made.addEventListener("click", pressed);
    return made;
  }

  /* ---- knobs ------------------------------------------------------------------------------------------------- */
  const split = key => key.split(".");
  function valueOf(key) {
    const [table, name] = split(key);
    return state.case[table][name];
  }
  function turnKnob(key, value) {
    const [table, name] = split(key);
    state.case[table][name] = value;
    show();
  }
  function labelOf(key) {
    const knob = Object.values(START.knobs).flat().find(k => k.key === key);
    return knob ? knob.label.toLowerCase() : key;
  }

  function build() {
    for (const [group, list] of Object.entries(START.knobs)) for (const knob of list) at(`${group}-knobs`).append(knobRow(knob));
    options(at("shipped"), Object.keys(START.shipped), "…");
    options(at("lip-type"), [...Object.keys(START.lips), OWN]);
    options(at("load-preset"), Object.keys(START.loads), "of its own");
    const layers = document.createElement("div");
    layers.id = "layers";
    at("lip-knobs").append(layers);
    const drawn = document.createElement("p");
    drawn.id = "drawn";
    drawn.className = "quiet";
    at("rim-knobs").append(drawn);
    at("caution-list").replaceChildren(...[...START.cautions, START.calibration].map(text => cell("li", text, {})));
  }
  function options(select, names, first) {
    const all = first === undefined ? names : ["", ...names];
    select.replaceChildren(...all.map(name => cell("option", name || first, { value: name })));
  }

  function knobRow(knob) {
    const row = document.createElement("div");
    row.className = "knob";
    const id = knob.key.replace(/\W/g, "-");
    const label = cell("label", knob.label, { for: id });
    label.append(cell("small", knob.hint, {}));
    const number = input({ id, type: "number", step: "any", "data-key": knob.key });
    const slider = input({ type: "range", min: knob.low, max: knob.high, step: knob.step, "data-key": knob.key, "data-slider": "",
      "aria-label": `${knob.label}, slider` });
    slider.addEventListener("input", () => {
      number.value = slider.value;
      slider.setAttribute("aria-valuetext", `${slider.value} ${knob.unit}`);
      knobTurned(knob.key, Number(slider.value));
    });
    number.addEventListener("input", () => {
      if (number.value === "" || Number.isNaN(number.valueAsNumber)) return;
      slider.value = number.value;
      knobTurned(knob.key, number.valueAsNumber);
    });
    row.append(label, number, cell("span", knob.unit, {}), slider);
    if (knob.key.includes("crown")) row.append(flatBox(knob.key));
    return row;
  }
  function input(attributes) {
    const made = document.createElement("input");
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }
  function flatBox(key) {
    const label = document.createElement("label");
    label.className = "check";
    const box = input({ type: "checkbox", "data-flat": key });
    box.addEventListener("change", () => {
      const number = document.querySelector(`[data-key="${key}"][type=number]`);
      turnKnob(key, box.checked ? "flat" : Number(number.value) || 6);
      fill();
    });
    label.append(box, "flat");
    return label;
  }
  function knobTurned(key, value) {
    if (key === "load.force_n" || key === "load.mouth_pressure_kpa") at("load-preset").value = "";
    turnKnob(key, value);
  }

  /* Set every control from the case. */
  function fill() {
    at("case-title").value = state.case.title || "";
    const drawn = "outline_mm" in state.case.rim;
    for (const field of document.querySelectorAll("#knobs [data-key]")) {
      const value = valueOf(field.dataset.key), rim = field.dataset.key.startsWith("rim.");
      field.disabled = (rim && drawn) || value === "flat";
      if (typeof value === "number") field.value = value;
      else if (rim && drawn && field.type === "number") field.value = "";
    }
    for (const box of document.querySelectorAll("[data-flat]")) {
      box.checked = valueOf(box.dataset.flat) === "flat";
      box.disabled = drawn;
    }
    at("drawn").replaceChildren();
    if (drawn) at("drawn").append(`Drawn by an outline of ${state.case.rim.outline_mm.length - 1} arcs and lines. `,
      state.dimensions ? `${state.dimensions.words}. ` : "",
      button("Use dimensions instead", "Use dimensions instead of the outline", () => {
        state.case.rim = structuredClone((state.dimensions || START.shipped.demo).rim); fill(); show(); }));
    at("lip-type").value = state.case.lip.type || OWN;
    at("lip-backing").value = state.case.lip.backing || "bonded";
    const load = Object.entries(START.loads).find(([, values]) => Object.entries(values).every(([key, value]) => state.case.load[key] === value));
    at("load-preset").value = load ? load[0] : "";
    layerRows();
  }

  function layerRows() {
    const rows = (state.case.lip.layer || []).map((layer, n) => {
      const box = document.createElement("div");
      box.className = "layer";
      box.append(cell("h3", `${layer.name || `layer ${n + 1}`}${layer.muscle ? " (muscle)" : ""}`, {}));
      box.append(layerNumber(layer, n, "thickness_mm", "Thickness", "mm", 0.1, 15), layerNumber(layer, n, "shear_modulus_kpa", "Shear modulus", "kPa", 1, 150));
      return box;
    });
    at("layers").replaceChildren(...rows);
  }
  function layerNumber(layer, n, name, label, unit, low, high) {
    const row = document.createElement("div"), id = `layer-${n}-${name}`, key = `lip.layer[${n}].${name}`;
    row.className = "knob";
    const number = input({ id, type: "number", step: "any", "data-layer": key });
    const slider = input({ type: "range", min: low, max: high, step: 0.1, "aria-label": `${label} of ${layer.name || `layer ${n + 1}`}, slider`, "data-layer": key });
    number.value = Number(layer[name].toPrecision(6));
    slider.value = layer[name];
    const change = (from, to) => () => {
      if (from.value === "" || Number.isNaN(from.valueAsNumber)) return;
      to.value = from.value;
      layer[name] = from.valueAsNumber;
      show();
    };
    number.addEventListener("input", change(number, slider));
    slider.addEventListener("input", change(slider, number));
    row.append(cell("label", label, { for: id }), number, cell("span", unit, {}), slider);
    return row;
  }

  at("case-title").addEventListener("change", () => { state.case.title = at("case-title").value.trim() || "untitled"; show(); });
  at("shipped").addEventListener("change", () => { if (at("shipped").value) take(structuredClone(START.shipped[at("shipped").value])); });
  at("lip-type").addEventListener("change", () => {
    const lip = state.case.lip, chosen = at("lip-type").value;
    if (chosen === OWN) { lip.layer = structuredClone(START.lips[lip.type] || START.lips.average); delete lip.type; }
    else { lip.type = chosen; delete lip.layer; }
    layerRows(); show();
  });
  at("lip-backing").addEventListener("change", () => turnKnob("lip.backing", at("lip-backing").value));
  at("load-preset").addEventListener("change", () => {
    Object.assign(state.case.load, START.loads[at("load-preset").value] || {});
    fill(); show();
  });
  at("cancel").addEventListener("click", () => { due = false; say({ do: "cancel", turn }); });
  at("knobs").addEventListener("submit", event => event.preventDefault());
  document.addEventListener("keydown", event => { if (event.key === "Escape" && !at("cancel").hidden) at("cancel").click(); });

  /* ---- files -------------------------------------------------------------------------------------------------- */
  /* `dimensions` say an outline's rim for the sliders, with how far off they are. */
  function take(tables, dimensions) { state.case = tables; state.dimensions = dimensions || null; fill(); show(); }
  function opened(message) { take(message.case, message.dimensions); }
  function traced(message) {
    state.case.rim = { outline_mm: message.outline_mm };
    take(state.case, message.dimensions);
  }
  function saved(message) { download(message.text, `${fileName()}.toml`, "application/toml"); }
  const fileName = () => (state.case.title || "case").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "").slice(0, 60) || "case";

  at("open").addEventListener("change", async () => {
    const chosen = [...at("open").files];
    at("open").value = "";
    const main = chosen.find(file => file.name.toLowerCase().endsWith(".toml")) || chosen[0];
    if (!main) return;
    const files = {};
    for (const file of chosen) if (file !== main) files[file.name] = await file.text();
    say({ do: "open", name: main.name, text: await main.text(), files });
  });
  at("trace").addEventListener("change", async () => {
    const [file] = at("trace").files;
    if (!file) return;
    const text = await file.text();
    at("trace").value = "";
    say({ do: "trace", name: file.name, text });
  });
  at("save").addEventListener("click", () => say({ do: "save", case: state.case }));
  function download(text, name, type) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }

  /* ---- report -------------------------------------------------------------------------------------------------- */
  at("report").addEventListener("click", () => {
    say({ do: "report", cases: [...state.pins.map(pin => pin.case), state.case], thorough: at("thorough").checked });
    reportProgress({ done: 0, of: 1 });
  });
  at("report-cancel").addEventListener("click", () => { say({ do: "cancel report" }); reportEnds("The report was cancelled."); });
  function reportProgress(message) {
    at("report-progress").hidden = at("report-cancel").hidden = false;
    at("report-progress").value = message.done / message.of;
    at("report-told").textContent = `step ${message.done} of ${message.of}`;
  }
  function reportEnds(words) {
    at("report-progress").hidden = at("report-cancel").hidden = true;
    at("report-told").textContent = words;
  }
  function reportDone(message) {
    download(message.html, `${fileName()}-report.html`, "text/html");
    reportEnds("The report was handed to the browser's downloads.");
  }

  build();
  fill();
  pins();
  numbers();
  tell("waiting", "connecting");
  connect();
})();
