/* A lesson: a slider over prepared states of two or three rims. Alone, every state is in the file; served, the
   program behind the page solves what it has not solved yet, those of the slider's place first. What was shown last stays
   until what was asked for is there, and says of which place it is. */
"use strict";
(() => {
  const START = JSON.parse(document.getElementById("start").textContent);
  const known = START.solved, troubles = {};
  const keyOf = (lesson, rim, stop) => `${lesson.name}/${rim}/${stop}`;
  const pages = [...document.querySelectorAll("[data-lesson]")].map(element => ({ element, lesson: START.lessons[Number(element.dataset.lesson)], held: [] }));
  const stopOf = page => Number(page.element.querySelector("[data-stops]").value);
  const placeOf = (lesson, stop) => `${Labrum.number(lesson.knob.values[stop])} ${lesson.knob.unit}`.trim();

  /* What is shown of each rim: the state asked for, or the last one there was. */
  function states(page, stop) {
    return page.lesson.cases.map((_, rim) => {
      const state = known[keyOf(page.lesson, rim, stop)];
      if (state) page.held[rim] = { ...state, stop };
      return page.held[rim];
    });
  }

  function draw(page) {
    const { element, lesson } = page, stop = stopOf(page), shown = states(page, stop), words = placeOf(lesson, stop);
    element.querySelector("output").textContent = words;
    element.querySelector("[data-stops]").setAttribute("aria-valuetext", words);
    const fresh = shown.map(one => one && one.stop === stop ? one : null);
    const missing = fresh.filter(one => !one).length;
    const trouble = lesson.cases.map((one, rim) => troubles[keyOf(lesson, rim, stop)] && `${one.name}: ${troubles[keyOf(lesson, rim, stop)]}`).filter(Boolean);
    element.querySelector("[data-told]").textContent = trouble.length ? trouble.join(" ") : missing ? `solving ${missing} of ${shown.length} rims` : "solved";
    const there = shown.filter(Boolean).map(one => one.picture);
    const shared = there.length ? { window: Labrum.windowOf(there), end: Labrum.pressureEnd(there) } : {};
    if (there.length) Labrum.pressureKey(element.querySelector("[data-scale]"), shared.end);
    element.querySelectorAll(".case").forEach((box, rim) => {
      const one = shown[rim], svg = box.querySelector("[data-section]");
      box.classList.toggle("old", Boolean(one) && !fresh[rim]);
      box.querySelector("[data-old]").textContent = one && !fresh[rim] ? `still at ${placeOf(lesson, one.stop)}` : "";
      if (one) Labrum.section(svg, one.picture, { ...shared, named: true, label: Labrum.spoken(lesson.cases[rim].name, one.result) });
      else svg.setAttribute("viewBox", "0 0 640 434");  // as large as what will stand here
      onward(box.querySelector("[data-onward]"), lesson, rim, stop);
    });
    const series = fresh.map((one, rim) => one && { profile: one.picture.profile, look: START.looks[rim], name: lesson.cases[rim].name }).filter(Boolean);
    if (series.length) Labrum.pressure(element.querySelector("[data-pressure]"), series, `Pressures at ${words}`);
    table(element.querySelector("tbody"), lesson, fresh);
  }

  /* The way from a state to the bench: by a link where there is a program, by a case to be saved where there is none. */
  function onward(link, lesson, rim, stop) {
    const state = known[keyOf(lesson, rim, stop)], served = Boolean(lesson.cases[rim].tables);
    link.hidden = !served && !(state && state.case);
    if (link.hidden) return;
    link.setAttribute("aria-label", `${link.textContent.trim()}: ${lesson.cases[rim].name}, ${placeOf(lesson, stop)}`);
    if (served) link.href = `/?${new URLSearchParams({ lesson: lesson.name, rim, stop })}`;
    else {
      link.href = `data:application/toml;charset=utf-8,${encodeURIComponent(state.case)}`;
      link.download = `${lesson.name}-${rim + 1}.toml`;
    }
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
    page.element.querySelectorAll("[data-look]").forEach((holder, place) => {
      const look = START.looks[place % page.lesson.cases.length];
      holder.className = "line";
      holder.innerHTML = `<svg width="30" height="8" viewBox="0 0 30 8" aria-hidden="true"><path d="M0,4H30" fill="none" stroke="${look.colour}" stroke-width="3" stroke-dasharray="${look.dashes}"/></svg>`;
    });
  }

  /* ---- the projector: one lesson, large, without the words a teacher says --------------------------------- */
  const projector = document.querySelector("[data-projector]");
  function projected(on) {
    document.body.classList.toggle("projector", on);
    projector.setAttribute("aria-pressed", String(on));
    choose();
    pages.forEach(draw);
  }
  function choose() {
    const wanted = pages.find(page => `#${page.lesson.name}` === location.hash) || pages[0];
    pages.forEach(page => page.element.classList.toggle("chosen", page === wanted));
    if (document.body.classList.contains("projector")) wanted.element.querySelector("[data-stops]").focus();
  }
  projector.addEventListener("click", () => projected(!document.body.classList.contains("projector")));
  document.addEventListener("keydown", event => {
    if (event.key === "Escape" && document.body.classList.contains("projector")) projected(false);
  });
  addEventListener("hashchange", choose);

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
  /* A state that is far from the slider must not hold up the one that is looked at. */
  function moved(page) {
    draw(page);
    const next = wanted(page);
    if (line && line.readyState === WebSocket.OPEN && asked && next && next.key !== asked.key) ask();
  }

  for (const page of pages) {
    page.element.querySelector("[data-stops]").addEventListener("input", () => moved(page));
    looks(page);
    draw(page);
  }
  choose();
  if (pages.some(page => wanted(page))) connect();
})();
