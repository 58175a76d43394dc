/* The table of numbers: one row a measure, one column a rim; rows stay while numbers change. */
"use strict";
const Numbers = (() => {
  const { at, element, explained, sample } = Parts;
  let start = null, rows = [], groups = [];

  function build(from) {
    start = from;
    const body = at("numbers").tBodies[0];
    for (const [heading, entries] of start.groups) {
      const group = element("tr", "", { class: "group" });
      group.append(element("th", heading, { scope: "colgroup" }));
      body.append(group);
      const mine = entries.map(entry => measureRow(entry));
      for (const one of mine) body.append(one.line, one.meaning);
      groups.push({ heading, line: group, rows: mine });
      rows.push(...mine);
    }
  }
  function measureRow([name, unit, label, words, better]) {
    const line = element("tr"), head = element("th", "", { scope: "row" });
    const meaning = element("tr", "", { class: "meaning" });
    meaning.append(element("td", words));
    meaning.hidden = true;
    head.append(explained(label, meaning), unit ? element("span", ` ${Labrum.unit(unit)}`, { class: "quiet" }) : "");
    line.append(head);
    return { name, label, unit, better, line, meaning };
  }

  /* Columns: { name, about, look, result, solved }; `asked` is true where something off the axis is asked. */
  function show(columns, asked) {
    const head = element("tr");
    head.append(element("th", "Measure", { scope: "col" }), ...columns.map(column => {
      const made = element("th", "", { scope: "col" });
      made.append(sample(column.look), column.name);
      if (column.about) made.append(element("small", column.about));
      return made;
    }));
    at("numbers").tHead.replaceChildren(head);
    for (const group of groups) {
      group.line.firstChild.colSpan = columns.length + 1;
      const away = group.heading === start.off_axis && !asked;
      group.line.hidden = away;
      for (const row of group.rows) fill(row, columns, away);
    }
  }
  function fill(row, columns, away) {
    row.line.hidden = away;
    if (away) row.meaning.hidden = true;
    row.meaning.firstChild.colSpan = columns.length + 1;
    while (row.line.children.length > 1) row.line.lastChild.remove();
    row.line.append(...columns.map((column, n) => {
      const value = column.result[row.name];
      const made = element("td", value === undefined ? "…" : (column.solved ? "" : "≈ ") + Labrum.number(value), { "data-measure": row.name });
      if (!column.solved) made.className = "unchecked";
      else if (doubt(column.result, row.name) > 0) made.append(element("span", ` ± ${Number(doubt(column.result, row.name).toPrecision(1))}`, { class: "error" }));
      if (n > 0) made.append(...mark(columns[0].result, column.result, row));
      return made;
    }));
  }

  /* The estimated error of a measure, in its own unit; not a number where there is none. */
  function doubt(result, name) {
    const error = (result.errors || {})[name];
    return typeof error === "number" ? error : NaN;
  }
  /* Coloured, and called better or worse, only where one side of the measure is. */
  function mark(first, other, { name, unit, better }) {
    const [a, b] = [first[name], other[name]];
    if (typeof a !== "number" || typeof b !== "number") return [];
    if (!(Math.abs(b - a) > doubt(first, name) + doubt(other, name))) return [];
    const percent = 100 * (b / a - 1), more = b > a;
    const size = start.intervals.includes(name) || Math.abs(a) < 1e-9 ? `${Number(Math.abs(b - a).toPrecision(2))} ${Labrum.unit(unit || "")}`.trim() : `${Math.abs(percent).toFixed(Math.abs(percent) < 9.95 ? 1 : 0)} %`;
    const side = !better ? "even" : more === better > 0 ? "better" : "worse";
    return [element("span", ` ${more ? "▲ +" : "▼ −"}${size}${better ? ` ${side}` : ""}`, { class: `mark ${side}` })];
  }

  /* Which of the rims answers a question: by what of a measure, and whether the errors let it be told. */
  function ranked(columns) {
    if (columns.length < 2) return [];
    const asked = start.rankings.filter(one => columns.every(column => typeof column.result[one.measure] === "number"));
    return asked.map(one => ({ question: one.question, ...settled(one, columns) }));
  }
  function settled({ measure, least, size }, columns) {
    const rims = columns.map(({ name, result }) => ({ name, shown: result[measure], by: size ? Math.abs(result[measure]) : result[measure], error: doubt(result, measure) || 0 }));
    rims.sort((a, b) => (least ? a.by - b.by : b.by - a.by));
    const alike = rims.filter((one, n) => n > 0 && !(Math.abs(one.by - rims[0].by) > one.error + rims[0].error));
    const words = alike.length ? `Cannot be told between ${[rims[0], ...alike].map(one => one.name).join(" and ")}` : rims[0].name;
    const row = rows.find(one => one.name === measure);
    return { words, numbers: `${row.label}${row.unit ? `, ${Labrum.unit(row.unit)}` : ""}: ${rims.map(one => `${Labrum.number(one.shown)} (${one.name})`).join(", ")}` };
  }
  return { build, show, ranked };
})();
