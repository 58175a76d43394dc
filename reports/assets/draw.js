/* Draws a pressed rim and its pressure as SVG. Lengths are mm, pressures kPa; nothing here talks to anybody. */
"use strict";
const Labrum = (() => {
  const SPACE = "http://www.w3.org/2000/svg";
  const TINTS = ["#e3d3a6", "#f5edd8", "#d9cfc4", "#efe3ea"], TOOTH = "#f7f7f4";
  const INK = "#1b1b1f", QUIET = "#54545c", AMBER = "#f98e09";
  /* The figures' colours of pressure, from nought up: eighths of their scale, mixed between. */
  const PRESSURES = ["#fde725", "#aadc32", "#5cc863", "#27ad81", "#21908d", "#2c718e", "#3b518b", "#472c7a", "#440154"];
  const BAND = 9;  /* of the pressure's colours on the metal, in the picture's own length */
  const WIDE = 640, TALL = 400, TEETH_MM = 1.6, FONT = 13;

  function element(name, attributes, parent) {
    const made = document.createElementNS(SPACE, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (parent) parent.appendChild(made);
    return made;
  }

  function words(parent, text, attributes) {
    const made = element("text", { "font-size": FONT, fill: INK, ...attributes }, parent);
    made.textContent = text;
    return made;
  }

  /* How much larger than usual words must be drawn to be read on a narrow screen. */
  const enlarged = svg => Math.min(Math.max(0.92 * WIDE / (svg.clientWidth || WIDE), 1), 1.8) * (document.body.classList.contains("projector") ? 1.25 : 1);

  const path = (points, place) => points.map((p, k) => (k ? "L" : "M") + place(p[0], p[1])).join("");

  /* What a picture needs to be seen whole: how far out, how deep, how high. */
  function needs(pictures) {
    const up = (value, step) => Math.ceil(value / step) * step;
    const right = Math.max(...pictures.map(p => up(p.right_mm + 3, 2)));
    const bottom = Math.max(...pictures.map(p => up(p.thickness_mm + TEETH_MM, 1)));
    const heights = pictures.map(p => Math.max(p.bite[1] + 3, ...p.past_bite.flat().map(q => q[1] + 1)));
    return { right, bottom: -bottom, top: up(Math.max(2, ...heights), 2) };
  }
  /* The part of the section that holds all the pictures; always of one shape, so that nothing below it moves. */
  function windowOf(pictures) {
    const { right, bottom, top } = needs(pictures), k = Math.min(WIDE / right, TALL / (top - bottom));
    return { right: WIDE / k, bottom, top: bottom + TALL / k };
  }
  /* The window in use while the picture fits it and fills it, a new one else: it does not twitch with a knob. */
  function heldWindow(held, picture) {
    const fresh = windowOf([picture]), need = needs([picture]);
    if (!held) return fresh;
    const fits = need.right <= held.right + 1e-9 && need.bottom >= held.bottom - 1e-9 && need.top <= held.top + 1e-9;
    return fits && fresh.right > 0.75 * held.right ? held : fresh;
  }

  function hatches(svg) {
    const key = "h" + Math.random().toString(36).slice(2);
    const defs = element("defs", {}, svg);
    const metal = element("pattern", { id: key + "m", width: 7, height: 7, patternUnits: "userSpaceOnUse",
      patternTransform: "rotate(45)" }, defs);
    element("rect", { width: 7, height: 7, fill: "#d3d6dc" }, metal);
    element("line", { x1: 0, y1: 0, x2: 0, y2: 7, stroke: "#8d919b", "stroke-width": 1.4 }, metal);
    const past = element("pattern", { id: key + "p", width: 5, height: 5, patternUnits: "userSpaceOnUse" }, defs);
    element("rect", { width: 5, height: 5, fill: AMBER }, past);
    element("line", { x1: 2.5, y1: 0, x2: 2.5, y2: 5, stroke: "#8a4b00", "stroke-width": 1 }, past);
    const tooth = element("pattern", { id: key + "t", width: 6, height: 6, patternUnits: "userSpaceOnUse",
      patternTransform: "rotate(-45)" }, defs);
    element("rect", { width: 6, height: 6, fill: TOOTH }, tooth);
    element("line", { x1: 0, y1: 0, x2: 0, y2: 6, stroke: "#a9a99f", "stroke-width": 1 }, tooth);
    return { metal: `url(#${key}m)`, past: `url(#${key}p)`, tooth: `url(#${key}t)` };
  }

  /* Where the colours of pressure end for some pictures: a round number, so that they hold still under a slider. */
  function pressureEnd(pictures) {
    const peak = Math.max(1e-6, ...pictures.flatMap(p => p.profile.map(q => q[1]))), decade = 10 ** Math.floor(Math.log10(peak));
    return [1, 1.5, 2, 3, 4, 5, 6, 8, 10].map(step => step * decade).find(step => step >= peak * (1 - 1e-9));
  }
  function colourOf(share) {
    const at = Math.min(Math.max(share, 0), 1) * (PRESSURES.length - 1), low = Math.min(Math.floor(at), PRESSURES.length - 2);
    const part = (colour, k) => parseInt(colour.slice(1 + 2 * k, 3 + 2 * k), 16);
    const mixed = k => Math.round(part(PRESSURES[low], k) + (at - low) * (part(PRESSURES[low + 1], k) - part(PRESSURES[low], k)));
    return `rgb(${mixed(0)},${mixed(1)},${mixed(2)})`;
  }
  /* Show in a key what the colours mean. */
  function pressureKey(holder, end) {
    holder.replaceChildren();
    const bar = document.createElement("span");
    bar.className = "swatch bar";
    bar.style.background = `linear-gradient(90deg, ${PRESSURES.join(", ")})`;
    holder.append(bar, `pressure on the rim, 0 to ${number(end)} kPa`);
  }

  /* Draw the half section into an svg element.
     options: window and end of the pressure's colours, shared by several drawings; bare, without ticks; named, with the names of its parts;
     label. */
  function section(svg, picture, options = {}) {
    const view = options.window || windowOf([picture]);
    const end = options.end || pressureEnd([picture]);
    const k = WIDE / view.right, large = enlarged(svg), foot = options.bare ? 0 : 34 * large;
    const place = (r, z) => `${(r * k).toFixed(1)},${((view.top - z) * k).toFixed(1)}`;
    svg.replaceChildren();
    svg.setAttribute("viewBox", `0 0 ${WIDE} ${TALL + foot}`);
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", options.label || "");
    const fills = hatches(svg);
    const body = element("svg", { width: WIDE, height: TALL, overflow: "hidden" }, svg);
    drawTeeth(body, picture, view, place, fills.tooth);
    picture.layers.forEach((layer, n) => layer.loops.forEach(loop => element("path", {
      d: path(loop, place) + "Z", fill: TINTS[n % TINTS.length], stroke: QUIET, "stroke-width": 1 }, body)));
    picture.past_bite.forEach(loop => element("path", { d: path(loop, place) + "Z", fill: fills.past }, body));
    drawRim(body, picture.rim, view, place, fills.metal);
    element("path", { d: `M${place(0, 0)}L${place(view.right, 0)}`, stroke: QUIET, "stroke-dasharray": "2 4" }, body);
    picture.band.forEach(run => drawBand(body, run, end, BAND * large / k, place));
    const [biteR, biteZ] = picture.bite;
    element("path", { d: `M${place(0, biteZ)}L${place(biteR, biteZ)}`, stroke: INK, "stroke-width": 1.6,
      "stroke-dasharray": "9 4" }, body);
    element("path", { d: `M1,0V${TALL}`, stroke: INK, "stroke-width": 1.4, "stroke-dasharray": "14 3 3 3" }, body);
    if (options.named) drawNames(body, picture, view, k, large);
    if (!options.bare) radiusTicks(svg, view, k, TALL, large);
  }

  /* Teeth stand behind the resting lip, from the tooth gap outwards. */
  function drawTeeth(parent, picture, view, place, fill) {
    const gap = picture.tooth_gap_mm || 0, back = -picture.thickness_mm, deep = view.bottom - 1;
    if (gap >= view.right) return;
    element("path", { d: path([[gap, back], [view.right, back], [view.right, deep], [gap, deep]], place) + "Z", fill,
      stroke: QUIET, "stroke-width": 1.2 }, parent);
  }

  function drawNames(parent, picture, view, k, large) {
    const name = (text, r, z, anchor = "middle") => words(parent, text, { x: (r * k).toFixed(1), y: ((view.top - z) * k + 4 * large).toFixed(1), "font-size": FONT * large,
      "text-anchor": anchor, stroke: "#fff", "stroke-width": 3, "stroke-linejoin": "round", "paint-order": "stroke" });
    const gap = picture.tooth_gap_mm || 0, behind = (view.bottom - picture.thickness_mm) / 2, room = 60 * large / k;
    const [biteR, biteZ] = picture.bite, crest = Math.max(biteZ, ...picture.past_bite.flat().map(p => p[1]));
    name("axis", 6 / k, view.top - 12 * large / k, "start");
    name("cup", 0.5 * biteR, Math.max((crest + view.top) / 2, crest + 14 / k));
    name("teeth", Math.min(Math.max(gap + room, 0.62 * view.right), view.right - room / 2), behind);
    if (gap > 0) name("mouth", Math.max(gap / 2, room / 2), behind);
    const inMetal = picture.rim.reduce((a, b) => (b[1] < a[1] ? b : a));
    name("rim", inMetal[0], Math.min(inMetal[1] + 60 / k, view.top - 14 / k));
    for (const layer of picture.layers) {
      const far = Math.min(view.right, ...layer.loops.map(loop => Math.max(...loop.map(p => p[0])))) - 8 / k;
      const heights = layer.loops.flatMap(loop => crossings(loop, far));
      if (heights.length) name(layer.name, far, (Math.min(...heights) + Math.max(...heights)) / 2, "end");
    }
  }
  /* Heights at which a closed line crosses a radius. */
  function crossings(loop, r) {
    return loop.flatMap((p, n) => {
      const q = loop[(n + 1) % loop.length];
      return (p[0] - r) * (q[0] - r) < 0 ? [p[1] + (r - p[0]) / (q[0] - p[0]) * (q[1] - p[1])] : [];
    });
  }

  function drawRim(parent, rim, view, place, fill) {
    const [last, first] = [rim[rim.length - 1], rim[0]];
    const top = Math.max(view.top, ...rim.map(p => p[1])) + 1;
    element("path", { d: path([...rim, [last[0], top], [first[0], top]], place) + "Z", fill }, parent);
    element("path", { d: path(rim, place), fill: "none", stroke: INK, "stroke-width": 2 }, parent);
  }

  /* The pressure as colours along the contact, on the metal's side: it covers neither the tissue nor the bite's gap. */
  function drawBand(parent, run, end, wide, place) {
    const band = element("g", { class: "pressed" }, parent);
    const back = run.map(([r, z, nr, nz]) => { const long = Math.max(Math.hypot(nr, nz), 1e-9); return [r - wide * nr / long, z - wide * nz / long]; });
    for (let n = 1; n < run.length; n += 1) {
      const colour = colourOf((run[n - 1][4] + run[n][4]) / (2 * end));
      element("path", { d: path([run[n - 1], run[n], back[n], back[n - 1]], place) + "Z", fill: colour, stroke: colour, "stroke-width": 0.7 }, band);
    }
  }

  function radiusTicks(svg, view, k, tall, large) {
    element("path", { d: `M0,${tall}H${view.right * k}`, stroke: QUIET }, svg);
    for (let r = 0; r <= view.right; r += 5) {
      element("path", { d: `M${r * k},${tall}v5`, stroke: QUIET }, svg);
      words(svg, r ? String(r) : "0 mm", { x: r * k + (r ? 0 : 2), y: tall + 4 + 14 * large, fill: QUIET, "font-size": FONT * large,
        "text-anchor": r ? (r > view.right - 1 ? "end" : "middle") : "start" });
    }
    words(svg, "radius from the axis", { x: view.right * k / 2, y: tall + 4 + 28 * large, fill: QUIET, "font-size": FONT * large, "text-anchor": "middle" });
  }

  function ticks(most, count) {
    const raw = Math.max(most, 1e-9) / count, decade = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map(s => s * decade).find(s => s >= raw);
    const made = [];
    for (let value = 0; value <= most * 1.0001; value += step) made.push(Number(value.toPrecision(12)));
    return made;
  }

  /* Draw pressures: series of { name, profile, look: { colour, dashes }, fill }. */
  function pressure(svg, series, label) {
    const large = enlarged(svg), wide = WIDE, tall = 300, left = 52 * large, right = 10, top = 12, bottom = 44 * large;
    svg.replaceChildren();
    svg.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", label);
    const all = series.flatMap(s => s.profile);
    if (!all.length) return;
    const low = Math.floor(Math.min(...all.map(p => p[0])) - 0.5), high = Math.ceil(Math.max(...all.map(p => p[0])) + 0.5);
    const levels = ticks(Math.max(...all.map(p => p[1])) * 1.12, 5), peak = Math.max(...all.map(p => p[1])) * 1.12;
    const x = r => left + (r - low) / (high - low) * (wide - left - right);
    const y = p => tall - bottom - p / peak * (tall - top - bottom);
    const place = (r, p) => `${x(r).toFixed(1)},${y(p).toFixed(1)}`;
    for (const level of levels) {
      element("path", { d: `M${left},${y(level)}H${wide - right}`, stroke: "#dcdce0" }, svg);
      words(svg, String(level), { x: left - 6, y: y(level) + 4 * large, "text-anchor": "end", fill: QUIET, "font-size": FONT * large });
    }
    for (let r = low; r <= high; r += 1) words(svg, String(r), { x: x(r), y: tall - bottom + 4 + 13 * large, "text-anchor": "middle", fill: QUIET, "font-size": FONT * large });
    element("path", { d: `M${left},${tall - bottom}H${wide - right}`, stroke: QUIET }, svg);
    words(svg, "radius, mm", { x: (left + wide) / 2, y: tall - 8, "text-anchor": "middle", "font-size": FONT * large });
    words(svg, "pressure, kPa", { x: 14 * large, y: (tall - bottom) / 2, "text-anchor": "middle", "font-size": FONT * large, transform: `rotate(-90 ${14 * large} ${(tall - bottom) / 2})` });
    series.forEach(s => drawSeries(svg, s, place));
  }

  function drawSeries(svg, s, place) {
    const group = element("g", {}, svg);
    const first = s.profile[0], last = s.profile[s.profile.length - 1];
    if (s.fill) element("path", { d: path([[first[0], 0], ...s.profile, [last[0], 0]], place) + "Z", fill: s.look.colour, "fill-opacity": 0.14 }, group);
    element("path", { d: path(s.profile, place), fill: "none", stroke: s.look.colour, "stroke-width": 2.4,
      "stroke-dasharray": s.look.dashes }, group);
    const top = s.profile.reduce((a, b) => (b[1] > a[1] ? b : a));
    const [cx, cy] = place(top[0], top[1]).split(",");
    element("circle", { cx, cy, r: 5, fill: s.look.colour, stroke: "#fff", "stroke-width": 1.5 }, group);
  }

  function number(value) {
    if (value === null || value === undefined) return "does not apply";
    if (typeof value === "boolean") return value ? "yes" : "no";
    if (Math.abs(value) >= 1000) return value.toFixed(0);
    return String(Number(value.toPrecision(4)));
  }

  const TYPESET = { mm2: "mm²", mm3: "mm³", deg: "°", "%/deg": "%/°", "Nmm/deg": "N mm/°", "um/kPa": "µm/kPa" };
  const unit = text => TYPESET[text] || text;

  function spoken(name, result) {
    return `${name}: sunk ${number(result.sink_mm)} mm, peak ${number(result.peak_pressure_kpa)} kPa at radius ` +
      `${number(result.peak_radius_mm)} mm, felt diameter ${number(result.felt_diameter_mm)} mm, ` +
      `${number(result.intrusion_height_mm)} mm past the bite`;
  }

  return { section, pressure, windowOf, heldWindow, pressureEnd, pressureKey, number, unit, spoken };
})();
