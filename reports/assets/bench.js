/* The bench: knobs, the picture and the answers, and a line of talk to the program behind them. */
"use strict";
(() => {
  const { at, element, button, input, options, sample, download } = Parts;
  const START = JSON.parse(at("start").textContent);
  const LIVE_LOOK = START.looks[0];
  const MOST_PINS = 5;
  const OWN = "of its own";
  if (START.linked) history.replaceState(null, "", "/");  // a reload goes on from what the knobs say
  let state = (!START.linked && remembered()) || { case: structuredClone(START.case), titled: true, dimensions: START.dimensions, pins: [], number: 1 };
  let turn = 0, waiting = false, due = false, line = null, live = null, view = null, asked = "";

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
      Asks.ends("");
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
    if (at("faults").dataset.of === "file") clearFaults();
    breathOfPreset();
    retitle();
    remember();
    at("whose").textContent = state.whose && JSON.stringify(state.case.lip.layer) === state.whose.layers ? state.whose.words : "";
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
    pressed: newPicture, solved: newPicture, progress, stopped, failed, faults, cancelled,
    opened: m => take(m.case, true, m.dimensions), traced, saved, trouble: m => tell("faulty", m.words),
    "report progress": reportProgress, "report failed": m => reportEnds(`No report: ${m.words}.`), report: reportDone,
    "ask progress": Asks.progress, "ask failed": m => Asks.ends(`No answer: ${m.words}.`), answered: answeredFurther,
    "sheet faults": m => { Asks.ends(""); Player.faults(m); }, "saved sheet": m => download(m.text, "player.toml", "application/toml"),
  };
  function hear(message) {
    if (message.turn !== undefined && message.turn !== null && message.turn !== turn) return;
    HEARD[message.say](message);
  }

  function answeredFurther(message) {
    Asks.answered(message, asked, message.about === "hand over");
    if (message.kept) Player.choose(message.kept, layRim, (rim, kind) => handOver(message.kept, rim, kind));
    if (message.lip) Player.offer(message.lip, lay);
  }
  /* Lay a rim that was found on the bench; the lip and the load that lie there stay. */
  function layRim(tables) {
    take({ ...state.case, rim: structuredClone(tables.rim) }, false);
    at("knobs").scrollIntoView({ block: "nearest" });
  }
  function handOver(kept, rim, kind) {
    asked = `Handed over: the ${kind} rim`;
    Asks.begin(`The ${kind} rim`, () => say({ do: "hand over", kept, rim }), true);
  }
  /* Lay a player's lip on the bench, with its force; whose it is stands there while its layers do. */
  function lay(part, words) {
    Object.assign(state.case, structuredClone({ lip: part.lip, load: part.load }));
    state.whose = { words, layers: JSON.stringify(part.lip.layer) };
    delete state.preset;
    fill();
    changed();
    at("knobs").scrollIntoView({ block: "nearest" });
  }
  const mineAsRims = () => ({ [Player.BENCH]: state.case, ...Object.fromEntries(state.pins.map(pin => [`${pin.name.replace(" ", "-")}.toml`, pin.case])) });
  function askOfPlayer(what, label) {
    asked = label;
    Player.clean();
    Asks.begin(label, () => say({ do: "player", what, sheet: state.sheet, rims: mineAsRims(), case: state.case }));
  }

  function newPicture(message) {
    const solved = message.say === "solved";
    answeredFaults();
    live = { ...message, solved, name: titleShown() };
    delete document.body.dataset.old;
    at("of-old").textContent = "";
    if (solved) {
      const times = message.remembered ? "Solved before and remembered." : `Solved in ${Number(message.result.solve_seconds.toPrecision(2))} s.`;
      tell("solved", `${Labrum.number(message.result.force_n)} N on ${lipShown()}. The peak is computed to ± ${message.result.peak_pressure_error_percent.toFixed(1)} %; the lip's stiffness is assumed. ${times}`);
      busy(null);
    } else {
      tell("pressed", "In equilibrium, on a first grid. How far its numbers may be off is being estimated.");
      busy(at("progress").value);
    }
    draw();
    requestAnimationFrame(() => performance.mark(`turn-${message.turn}-${message.say}`));
    if (waiting) answered();
  }

  function progress(message) {
    at("doing").textContent = message.words;
    if (!live || live.turn !== turn) tell("solving", "");
    busy(message.share);
  }
  function stopped(message) {
    const words = `No equilibrium: stopped at ${Labrum.number(message.reached_n)} N of ${Labrum.number(message.force_n)} N.`;
    tell("stopped", words);
    at("faults").replaceChildren(element("p", `${words} Likely cause: ${message.cause}. What to try: ${message.advice}.`));
    busy(null);
    old();
    if (waiting) answered();
  }
  function failed(message) {
    tell("failed", `A fault of ours: ${message.words}`);
    busy(null);
    old();
    if (waiting) answered();
  }
  function cancelled() {
    tell("waiting", "The solve was cancelled. Turn a knob to go on.");
    busy(null);
    if (waiting) answered();
  }

  /* What is shown is of an earlier case, and says so; there is no result for this one. */
  function old() {
    if (live) live = { ...live, of_old: true };
    document.body.dataset.old = "";
    at("pin").disabled = at("report").disabled = true;
    if (live) at("of-old").textContent = `The last one that has a result: ${live.name}`;
    numbers();
  }

  function faults(message) {
    clearFaults();
    const list = element("ul");
    for (const fault of message.faults) {
      const place = fault.line ? `${fault.file}, line ${fault.line}: ` : fault.file && fault.file !== "this page" ? `${fault.file}: ` : "";
      list.append(element("li", `${place}${Knobs.labelOf(fault.key)}: got ${fault.got}, allowed ${fault.allowed}${fault.hint ? ` (${fault.hint})` : ""}`));
      for (const field of document.querySelectorAll(`[data-key="${CSS.escape(fault.key)}"]`)) {
        field.setAttribute("aria-invalid", "true");
        field.setAttribute("aria-describedby", "faults");
      }
    }
    at("faults").replaceChildren(list);
    if (message.turn === undefined || message.turn === null) {
      at("faults").dataset.of = "file";
      if (live && live.solved) at("told").textContent = "The file could not be used; the rim below is the one from before.";
      return;
    }
    tell("faulty", message.faults.length === 1 ? "One value does not fit." : `${message.faults.length} values do not fit.`);
    busy(null);
    old();
    if (waiting) answered();
  }
  /* What is wrong with a file is no answer to the knobs: it stays until somebody does the next thing. */
  function answeredFaults() {
    if (at("faults").dataset.of !== "file") clearFaults();
  }
  function clearFaults() {
    at("faults").replaceChildren();
    delete at("faults").dataset.of;
    for (const field of document.querySelectorAll("[aria-invalid]")) {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }

  /* ---- state in words --------------------------------------------------------------------------------------- */
  function tell(name, words) {
    at("chip").dataset.state = name;
    at("chip").textContent = { faulty: "does not fit", stopped: "not converged", lost: "no answer", failed: "no result" }[name] || name;
    at("told").textContent = words;
    // Who listens instead of looking hears how it ended, not every turn of a knob.
    if (!["pressed", "solving", "waiting"].includes(name)) at("spoken").textContent = `${at("chip").textContent}: ${words}`;
  }
  function busy(share) {
    at("progress").hidden = at("cancel").hidden = share === null;
    if (share !== null) at("progress").value = share;
    else at("doing").textContent = "";
    const whole = live && live.solved && !live.of_old;
    at("pin").disabled = !whole || state.pins.length >= MOST_PINS;
    at("report").disabled = !whole;
  }

  /* ---- pictures and numbers --------------------------------------------------------------------------------- */
  function draw() {
    const label = Labrum.spoken(live.name, live.result);
    view = Labrum.heldWindow(view, live.picture);
    coloured(Labrum.pressureEnd([live.picture, ...state.pins.map(pin => pin.shown.picture)]));
    Labrum.section(at("section"), live.picture, { window: view, label, named: true, end: state.end });
    const mine = { name: live.name, profile: live.picture.profile, look: LIVE_LOOK, fill: true };
    Labrum.pressure(at("pressure"), [...pinnedSeries(), mine], label);
    at("answered").replaceChildren(...live.answers.map(told));
    at("next-step").replaceChildren(...(live.next ? [element("b", "What to try next"), ` ${live.next}`] : []));
    numbers();
  }
  function told({ question, words, numbers }) {
    const box = element("div");
    box.append(element("dt", question), element("dd", words), element("dd", numbers, { class: "quiet" }));
    return box;
  }
  /* Colours of pressure mean the same in every picture of the page. */
  function coloured(end) {
    if (end === state.end) return;
    state.end = end;
    Labrum.pressureKey(at("scale"), end);
    pins();
  }
  const lookOf = number => START.looks[1 + (number % (START.looks.length - 1))];
  function pinnedSeries() {
    return state.pins.map((pin, n) => ({ name: pin.name, profile: pin.shown.picture.profile, look: lookOf(n) }));
  }

  /* A remark names its key as a file does; here it is the knob's own name. */
  function remark(words) {
    const [, key, rest] = /^([a-z_]+\.[a-z_]+): (.*)$/s.exec(words) || [];
    return key ? `${Knobs.labelOf(key)}: ${rest}` : words;
  }
  function numbers() {
    const cases = [...state.pins.map(pin => pin.case), state.case], keys = state.pins.length ? Cases.differing(cases) : [];
    const about = tables => Cases.told(tables, keys, Knobs.labelOf);
    const columns = state.pins.map((pin, n) => ({ name: pin.name, about: about(pin.case), result: pin.shown.result, look: lookOf(n), solved: true }));
    if (live) columns.push({ name: live.of_old ? "the last result" : live.solved ? "live" : "live, pressed", about: live.of_old ? "" : about(state.case), result: live.result, look: LIVE_LOOK, solved: live.solved });
    Numbers.show(columns, cases.some(one => "off_axis" in one));
    const beside = keys.filter(key => !key.startsWith("rim.") && !key.startsWith("readings.")).map(Knobs.labelOf);
    at("unlike").textContent = beside.length ? `Not the rims alone differ: ${beside.join(", ")} too.` : "";
    at("ranked").replaceChildren(...Numbers.ranked(columns.filter(column => column.solved && column.name !== "the last result")).map(told));
    at("remarks").replaceChildren(...((live && live.result.warnings) || []).map(words => element("li", remark(words))));
  }

  /* ---- titles ------------------------------------------------------------------------------------------------ */
  /* A title that came with a case or was typed holds; one that was made follows the knobs. */
  function retitle() {
    if (!state.titled) state.case.title = Cases.title(state.case);
    at("case-title").value = at("case-title").title = state.case.title || "";
  }
  const lipShown = () => (state.case.lip.type ? `the library's ${state.case.lip.type} lip` : "a lip of its own");
  const titleShown = () => state.case.title || "this rim";
  at("case-title").addEventListener("change", () => {
    state.titled = at("case-title").value.trim() !== "";
    if (state.titled) state.case.title = at("case-title").value.trim();
    show();
  });

  /* ---- pins -------------------------------------------------------------------------------------------------- */
  at("pin").addEventListener("click", () => {
    const { picture, result } = live;
    state.pins.push({ name: `pin ${state.number}`, title: live.name, titled: state.titled, dimensions: state.dimensions, case: structuredClone(state.case), shown: { picture, result } });
    state.number += 1;
    pinsChanged();
  });
  function pinsChanged() {
    remember(); pins(); Player.fill(); if (live) draw(); else numbers(); busy(at("progress").hidden ? null : at("progress").value);
  }
  function pins() {
    at("pins").replaceChildren(...state.pins.map((pin, n) => {
      const box = element("article", "", { class: "pin" }), heading = element("h3");
      heading.append(sample(lookOf(n)), `${pin.name}: ${pin.title}`);
      const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      Labrum.section(svg, pin.shown.picture, { bare: true, end: state.end, label: Labrum.spoken(pin.name, pin.shown.result) });
      const row = element("div", "", { class: "row" });
      row.append(button("Back to the knobs", `Back to the knobs: ${pin.name}`, () => take(structuredClone(pin.case), pin.titled, pin.dimensions)),
        button("Unpin", `Unpin ${pin.name}`, () => { state.pins.splice(n, 1); pinsChanged(); }));
      box.append(heading, svg, row);
      return box;
    }));
  }

  /* ---- knobs ------------------------------------------------------------------------------------------------- */
  function turned(key, value) {
    const [table, name] = key.split(".");
    state.case[table][name] = value;
    if (key === "load.mouth_pressure_kpa") delete state.preset;
    if (table === "load") at("load-preset").value = presetOf(state.case.load);
    changed();
  }
  function changed() { state.titled = false; show(); }
  /* A preset's breath is left out while the lip gives it nothing to push on, and is there again where it does. */
  function breathOfPreset() {
    const preset = START.loads[state.preset];
    if (!preset) return;
    const breath = Cases.breathPushes(state.case.lip) ? preset.mouth_pressure_kpa : 0;
    if (breath === state.case.load.mouth_pressure_kpa) return;
    state.case.load.mouth_pressure_kpa = breath;
    Knobs.put("load.mouth_pressure_kpa", breath);
  }
  function presetOf(load) {
    const chosen = START.loads[state.preset];
    if (chosen) return load.force_n === chosen.force_n ? state.preset : "";
    const found = Object.entries(START.loads).find(([, values]) => Object.entries(values).every(([key, value]) => load[key] === value));
    return found ? found[0] : "";
  }

  function build() {
    Knobs.build(START.knobs, turned);
    Numbers.build(START);
    Layers.build(changed);
    Asks.build(START.asks, (what, files) => { asked = START.asks.find(one => one.name === what).label; say({ do: "ask", what, case: state.case, files }); }, () => say({ do: "cancel ask" }));
    state.sheet = state.sheet || { instrument: START.sheet.instruments[0] };
    Player.build(START.sheet, sheet => { state.sheet = sheet; remember(); }, mineAsRims, askOfPlayer,
      () => { Player.clean(); say({ do: "save sheet", sheet: state.sheet, rims: mineAsRims() }); }, state.sheet);
    options(at("shipped"), Object.keys(START.shipped), "…");
    options(at("lip-type"), [...Object.keys(START.lips), OWN]);
    options(at("load-preset"), Object.keys(START.loads), OWN);
    at("rim-knobs").append(element("p", "", { id: "drawn", class: "quiet" }));
    at("off-axis-knobs").append(...START.off_axis_knobs.map(offAxisRow));
    at("caution-list").replaceChildren(...[...START.cautions, START.calibration].map(text => element("li", text)));
  }
  function offAxisRow([name, label, unit]) {
    const row = element("label", label, { class: "number" });
    const number = input({ type: "number", step: "any", "data-key": `off_axis.${name}` });
    number.addEventListener("input", () => {
      if (number.value === "" ? !state.case.off_axis : Number.isNaN(number.valueAsNumber)) return;
      if (number.value === "") delete state.case.off_axis[name];
      else state.case.off_axis[name] = number.valueAsNumber;
      changed();
    });
    row.append(number, element("span", unit));
    return row;
  }

  /* Set every control from the case. */
  function fill() {
    const { rim, lip } = state.case, drawn = "outline_mm" in rim;
    Knobs.fill(state.case);
    at("drawn").replaceChildren();
    if (drawn) at("drawn").append(`Drawn by an outline of ${rim.outline_mm.length - 1} arcs and lines. `,
      state.dimensions ? `${state.dimensions.words}. ` : "",
      button("Use dimensions instead", "Use dimensions instead of the outline", () => {
        state.case.rim = structuredClone((state.dimensions || START.shipped.demo).rim); fill(); changed(); }));
    at("lip-type").value = lip.type || OWN;
    at("lip-backing").value = lip.backing || "bonded";
    at("load-preset").value = presetOf(state.case.load);
    at("ask-vibration").checked = Boolean((state.case.readings || {}).vibration);
    offAxis();
    layers();
    retitle();
  }
  function offAxis() {
    const has = "off_axis" in state.case;
    at("ask-off-axis").checked = has;
    if (has) at("beside").open = true;
    for (const field of document.querySelectorAll("[data-key^='off_axis.']")) {
      const value = has ? state.case.off_axis[field.dataset.key.split(".")[1]] : undefined;
      field.disabled = !has;
      field.value = value === undefined ? "" : value;
    }
  }
  function layers() {
    const own = !state.case.lip.type;
    if (!own) unfold(false);
    if (own) Layers.fill(state.case.lip.layer);
  }
  function unfold(shown) {
    at("layers").hidden = !shown;
    at("edit-layers").setAttribute("aria-expanded", String(shown));
  }

  at("shipped").addEventListener("change", () => { const name = at("shipped").value; if (name) take(structuredClone(START.shipped[name]), true, START.shipped_dimensions[name]); });
  at("lip-type").addEventListener("change", () => {
    const lip = state.case.lip, chosen = at("lip-type").value;
    if (chosen === OWN) ownLayers();
    else { lip.type = chosen; delete lip.layer; }
    layers(); unfold(chosen === OWN); changed();
  });
  function ownLayers() {
    const lip = state.case.lip;
    if (!lip.type) return;
    lip.layer = structuredClone(START.lips[lip.type]);
    delete lip.type;
    at("lip-type").value = OWN;
  }
  at("edit-layers").addEventListener("click", () => {
    const shown = at("layers").hidden;
    if (shown && state.case.lip.type) { ownLayers(); layers(); changed(); }
    unfold(shown);
    if (shown) at("layers").scrollIntoView({ block: "nearest" });
  });
  at("lip-backing").addEventListener("change", () => turned("lip.backing", at("lip-backing").value));
  at("load-preset").addEventListener("change", () => {
    state.preset = at("load-preset").value;
    Object.assign(state.case.load, START.loads[state.preset] || {});
    breathOfPreset();
    fill(); changed();
  });
  at("ask-vibration").addEventListener("change", () => { state.case.readings = { vibration: at("ask-vibration").checked }; changed(); });
  at("ask-off-axis").addEventListener("change", () => {
    if (at("ask-off-axis").checked) state.case.off_axis = { tilt_deg: 0, lower_lip_stiffness: 1, lower_lip_thickness: 1 };
    else delete state.case.off_axis;
    offAxis(); changed();
  });
  at("cancel").addEventListener("click", () => { due = false; say({ do: "cancel", turn }); });
  at("knobs").addEventListener("submit", event => event.preventDefault());
  document.addEventListener("keydown", event => { if (event.key === "Escape" && !at("cancel").hidden) at("cancel").click(); });

  /* ---- files -------------------------------------------------------------------------------------------------- */
  /* `dimensions` say an outline's rim for the sliders, with how far off they are. */
  function take(tables, titled = true, dimensions = null) { delete state.preset; Object.assign(state, { case: tables, titled, dimensions }); fill(); show(); }
  function traced(message) {
    state.case.rim = { outline_mm: message.outline_mm };
    take(state.case, false, message.dimensions);
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
  if (state.end) Labrum.pressureKey(at("scale"), state.end);
  pins();
  numbers();
  tell("waiting", "connecting");
  connect();
})();
