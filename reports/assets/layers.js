/* The editor of a lip's own layers: one row a layer, from the rim's side to the teeth's. */
"use strict";
const Layers = (() => {
  const { at, element, button, input } = Parts;
  const NEW = { name: "layer", thickness_mm: 2, shear_modulus_kpa: 20, stiffening_kpa: [0, 0], poisson_ratio: 0.495, muscle: false };
  const HEADS = ["Name", "Thickness, mm", "Shear modulus, kPa", "Stiffening c2, kPa", "c3, kPa", "Poisson's ratio", "Muscle", "Order"];
  let changed = () => {}, layers = [];

  function build(hear) {
    changed = hear;
    const head = element("tr");
    head.append(...HEADS.map(text => element("th", text, { scope: "col" })));
    at("layer-table").tHead.append(head);
    at("add-layer").addEventListener("click", () => { layers.push(structuredClone(NEW)); fill(layers); changed(); });
  }
  function fill(list) {
    layers = list;
    at("layer-table").tBodies[0].replaceChildren(...layers.map(row));
    told();
  }
  function told() {
    const whole = layers.reduce((sum, layer) => sum + Number(layer.thickness_mm), 0);
    at("layers-told").textContent = `${layers.length} layers, ${Number(whole.toFixed(2))} mm together`;
  }
  function row(layer, n) {
    const line = element("tr"), who = layer.name || `layer ${n + 1}`;
    layer.stiffening_kpa = layer.stiffening_kpa || [0, 0];
    const cells = [
      text(layer, who, n), number(layer, "thickness_mm", `Thickness of ${who}, mm`, n), number(layer, "shear_modulus_kpa", `Shear modulus of ${who}, kPa`, n),
      number(layer.stiffening_kpa, 0, `Stiffening c2 of ${who}, kPa`, n), number(layer.stiffening_kpa, 1, `Stiffening c3 of ${who}, kPa`, n),
      number(layer, "poisson_ratio", `Poisson's ratio of ${who}`, n), muscle(layer, who), order(who, n),
    ];
    line.append(...cells.map(made => { const cell = element("td"); cell.append(made); return cell; }));
    return line;
  }
  function text(layer, who, n) {
    const made = input({ type: "text", maxlength: 60, value: who, "aria-label": `Name of layer ${n + 1}` });
    made.addEventListener("change", () => { layer.name = made.value.trim() || `layer ${n + 1}`; fill(layers); changed(); });
    return made;
  }
  function number(holder, key, label, n) {
    const name = typeof key === "string" ? `.${key}` : `.stiffening_kpa`;
    const made = input({ type: "number", step: "any", min: 0, "aria-label": label, "data-key": `lip.layer[${n}]${name}` });
    made.value = holder[key] === undefined ? "" : Number(Number(holder[key]).toPrecision(6));
    made.addEventListener("input", () => {
      if (made.value === "" || Number.isNaN(made.valueAsNumber)) return;
      holder[key] = made.valueAsNumber;
      told();
      changed();
    });
    return made;
  }
  function muscle(layer, who) {
    const box = input({ type: "checkbox", "aria-label": `${who} is muscle` });
    box.checked = Boolean(layer.muscle);
    box.addEventListener("change", () => { layer.muscle = box.checked; changed(); });
    return box;
  }
  function order(who, n) {
    const holder = element("span", "", { class: "order" });
    const up = button("▲", `Move ${who} towards the rim`, () => move(n, n - 1));
    const down = button("▼", `Move ${who} towards the teeth`, () => move(n, n + 1));
    const out = button("Remove", `Remove ${who}`, () => { layers.splice(n, 1); fill(layers); changed(); });
    up.disabled = n === 0;
    down.disabled = n === layers.length - 1;
    out.disabled = layers.length === 1;
    holder.append(up, down, out);
    return holder;
  }
  function move(from, to) {
    layers.splice(to, 0, layers.splice(from, 1)[0]);
    fill(layers);
    changed();
  }
  return { build, fill };
})();
