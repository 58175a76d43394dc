/* A lesson: a slider over prepared states of two or three rims. Alone, every state is in the file; served, the
   program behind the page solves them, those of the slider's place first. */
"use strict";
(() => {
  const START = JSON.parse(document.getElementById("start").textContent);
  const known = START.solved, troubles = {};
  const keyOf = (lesson, rim, stop) => `${lesson.name}/${rim}/${stop}`;
  const pages = [...document.querySelectorAll("[data-lesson]")].map(element => ({ element, lesson: START.lessons[Number(element.dataset.lesson)] }));
  const stopOf = page => Number(page.element.querySelector("[data-stops]").value);

  function draw(page) {
    const { element, lesson } = page, stop = stopOf(page);
    const shown = lesson.cases.map((_, rim) => known[keyOf(lesson, rim, stop)]);
    const words = `${Labrum.number(lesson.knob.values[stop])} ${lesson.knob.unit}`.trim();
    element.querySelector("output").textContent = words;
    element.querySelector("[data-stops]").setAttribute("aria-valuetext", words);
    const missing = shown.filter(one => !one).length;
    const trouble = lesson.cases.map((one, rim) => troubles[keyOf(lesson, rim, stop)] && `${one.name}: ${troubles[keyOf(lesson, rim, stop)]}`).filter(Boolean);
    element.querySelector("[data-told]").textContent = trouble.length ? trouble.join(" ") : missing ? `solving ${missing} of ${shown.length} rims` : "solved";
    const there = shown.filter(Boolean).map(one => one.picture);
    const shared = there.length ? { window: Labrum.windowOf(there), end: Labrum.pressureEnd(there) } : {};
    if (there.length) Labrum.pressureKey(element.querySelector("[data-scale]"), shared.end);
    element.querySelectorAll("[data-section]").forEach((svg, rim) => {
      if (shown[rim]) Labrum.section(svg, shown[rim].picture, { ...shared, label: Labrum.spoken(lesson.cases[rim].name, shown[rim].result) });
      else svg.replaceChildren();
    });
    const series = shown.map((one, rim) => one && { profile: one.picture.profile, look: START.looks[rim], name: lesson.cases[rim].name }).filter(Boolean);
    Labrum.pressure(element.querySelector("[data-pressure]"), series, `Pressures at ${words}`);
    table(element.querySelector("tbody"), lesson, shown);
  }

  function table(body, lesson, shown) {
    body.replaceChildren(...lesson.measures.map(([name, label, unit]) => {
      const row = document.createElement("tr");
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = unit ? `${label}, ${Labrum.unit(unit)}` : label;
      row.append(head, ...shown.map(one => {
        const cell = document.createElement("td");
        cell.dataset.measure = name;
        cell.textContent = one ? Labrum.number(one.result[name]) : "…";
        const error = one && one.result.errors && one.result.errors[name];
        if (error) cell.title = `± ${Number(error.toPrecision(1))}`;
        return cell;
      }));
      return row;
    }));
  }

  function looks(page) {
    page.element.querySelectorAll("[data-look]").forEach((holder, rim) => {
      const look = START.looks[rim];
      holder.className = "line";
      holder.innerHTML = `<svg width="30" height="8" viewBox="0 0 30 8" aria-hidden="true"><path d="M0,4H30" fill="none" stroke="${look.colour}" stroke-width="3" stroke-dasharray="${look.dashes}"/></svg>`;
    });
  }

  /* ---- served: ask for what is missing, the slider's place first ------------------------------------------ */
  let line = null, asked = null;
  function wanted(page) {
    const stops = page.lesson.knob.values.map((_, stop) => stop), here = stopOf(page);
    stops.sort((a, b) => Math.abs(a - here) - Math.abs(b - here));
    for (const stop of stops) for (let rim = 0; rim < page.lesson.cases.length; rim += 1) {
      const key = keyOf(page.lesson, rim, stop);
      if (!known[key] && !troubles[key]) return { key, tables: page.lesson.cases[rim].tables[stop], page };
    }
    return null;
  }
  function ask() {
    asked = pages.map(wanted).find(Boolean) || null;
    if (asked) line.send(JSON.stringify({ do: "show", turn: asked.key, case: asked.tables }));
  }
  function hear(message) {
    if (!asked || message.turn !== asked.key) return;
    const told = asked.page.element.querySelector("[data-told]");
    if (message.say === "progress" && asked.key.endsWith(`/${stopOf(asked.page)}`)) told.textContent = message.words;
    if (message.say === "solved") known[asked.key] = { picture: message.picture, result: message.result };
    else if (message.say === "stopped") troubles[asked.key] = `no equilibrium beyond ${Labrum.number(message.reached_n)} N.`;
    else if (message.say === "failed" || message.say === "faults") troubles[asked.key] = "no result.";
    else return;
    draw(asked.page);
    ask();
  }
  function connect() {
    line = new WebSocket(`ws://${location.host}/talk`);
    line.addEventListener("open", ask);
    line.addEventListener("message", event => hear(JSON.parse(event.data)));
    line.addEventListener("close", () => setTimeout(connect, 1000));
  }

  for (const page of pages) {
    page.element.querySelector("[data-stops]").addEventListener("input", () => draw(page));
    looks(page);
    draw(page);
  }
  if (pages.some(page => wanted(page))) connect();
})();
