/* Small parts that the bench is built of. Nothing here knows what a rim is. */
"use strict";
const Parts = (() => {
  const at = id => document.getElementById(id);

  function element(tag, text, attributes = {}) {
    const made = document.createElement(tag);
    if (text) made.textContent = text;
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }
  function button(text, label, pressed) {
    const made = element("button", text, { type: "button", "aria-label": label });
    made.addEventListener("click", pressed);
    return made;
  }
  const input = attributes => element("input", "", attributes);

  /* A name that tells its meaning when it is tapped: `told` is shown and hidden. */
  function explained(name, told) {
    const made = element("button", name, { type: "button", class: "name", "aria-expanded": "false" });
    made.addEventListener("click", () => {
      told.hidden = !told.hidden;
      made.setAttribute("aria-expanded", String(!told.hidden));
    });
    return made;
  }

  function options(select, names, first) {
    const all = first === undefined ? names : ["", ...names];
    select.replaceChildren(...all.map(name => element("option", name || first, { value: name })));
  }
  function sample(look) {
    const holder = element("span", "", { class: "line" });
    holder.innerHTML = `<svg width="30" height="8" viewBox="0 0 30 8" aria-hidden="true"><path d="M0,4H30" fill="none" stroke="${look.colour}" stroke-width="3" stroke-dasharray="${look.dashes}"/></svg>`;
    return holder;
  }
  function table(head, rows, caption) {
    const made = element("table"), top = element("tr"), body = element("tbody");
    if (caption) made.append(element("caption", caption));
    top.append(...head.map(text => element("th", text, { scope: "col" })));
    body.append(...rows.map(row => {
      const line = element("tr");
      line.append(...row.map((text, n) => (n ? element("td", text) : element("th", text, { scope: "row" }))));
      return line;
    }));
    made.append(element("thead"), body);
    made.tHead.append(top);
    return made;
  }
  function download(content, name, type) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([content], { type }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }
  return { at, element, button, input, explained, options, sample, table, download };
})();
