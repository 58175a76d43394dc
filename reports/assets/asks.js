/* Questions asked further of the rim on the bench: a button each, one answer at a time. */
"use strict";
const Asks = (() => {
  const { at, element, button, table, download } = Parts;

  /* `ask(name, files)` sends the question, `stop` gives it up. */
  function build(offered, ask, stop) {
    for (const one of offered) {
      const made = button(one.label, `${one.label} ${one.words}`, () => begin(one.label, () => ask(one.name, {})));
      made.title = one.words;
      at("asks").append(made);
      if (one.files) at("asks").append(withTrace(one, ask));
    }
    at("ask-cancel").addEventListener("click", () => { stop(); ends("The question was given up."); });
  }
  function withTrace(one, ask) {
    const label = element("label", "Gauge a trace…", { class: "button" });
    const file = element("input", "", { type: "file", class: "unseen", accept: ".csv,.dxf,.txt", id: "gauge-trace" });
    file.addEventListener("change", async () => {
      const [chosen] = file.files;
      if (!chosen) return;
      const text = await chosen.text();
      file.value = "";
      begin("Gauge a trace", () => ask(one.name, { [chosen.name]: text }));
    });
    label.append(file);
    return label;
  }
  /* What was answered before stays where `more` is asked of it. */
  function begin(label, send, more = false) {
    if (!more) at("ask-answer").replaceChildren();
    progress({ share: 0, words: label });
    send();
  }
  function progress(message) {
    at("ask-progress").hidden = at("ask-cancel").hidden = false;
    at("ask-progress").value = message.share;
    at("ask-told").textContent = message.words;
  }
  function ends(words) {
    at("ask-progress").hidden = at("ask-cancel").hidden = true;
    at("ask-told").textContent = words;
  }
  /* A sentence; what stands between backquotes is a command. */
  function said(text, look) {
    const made = element("p", "", look);
    made.append(...text.split("`").map((part, n) => n % 2 ? element("code", part) : part));
    return made;
  }
  function answered(message, about, more = false) {
    ends("");
    const shown = [element("h3", about)];
    shown.push(...message.words.map((text, n) => said(text, n ? { class: "quiet" } : { class: "lead" })));
    for (const one of message.tables) {
      const holder = element("div", "", { class: "wide", role: "region", "aria-label": one.caption, tabindex: "0" });
      holder.append(table(one.head, one.rows, one.caption));
      shown.push(holder);
    }
    for (const file of message.files) {
      const bytes = Uint8Array.from(atob(file.base64), letter => letter.charCodeAt(0));
      shown.push(button(`Keep ${file.name}`, `Keep ${file.name}`, () => download(bytes, file.name, file.type)));
    }
    if (more) at("ask-answer").append(...shown);
    else at("ask-answer").replaceChildren(...shown);
    if (more) shown[0].scrollIntoView({ block: "nearest" });
  }
  return { build, begin, progress, ends, answered };
})();
