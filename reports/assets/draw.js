/* Draws a pressed rim and its pressure as SVG. Lengths are mm, pressures kPa; nothing here talks to anybody. */
"use strict";
const Labrum = (() => {
  const SPACE = "http://www.w3.org/2000/svg";
  const TINTS = ["#e3d3a6", "#f5edd8", "#d9cfc4", "#efe3ea"];
  const INK = "#1b1b1f", QUIET = "#54545c", VIOLET = "#440154", PALE = "#b9a3c9", AMBER = "#f98e09";

  function element(name, attributes, parent) {
    const made = document.createElementNS(SPACE, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (parent) parent.appendChild(made);
    return made;
  }

  function words(parent, text, attributes) {
    const made = element("text", { "font-size": 13, fill: INK, ...attributes }, parent);
    made.textContent = text;
    return made;
  }

  const path = (points, place) => points.map((p, k) => (k ? "L" : "M") + place(p[0], p[1])).join("");

  /* The part of the section that holds all the pictures, in whole steps so that it does not twitch with a knob. */
  function windowOf(pictures) {
    const up = (value, step) => Math.ceil(value / step) * step;
    const right = Math.max(...pictures.map(p => up(p.right_mm + 3, 2)));
    const bottom = Math.max(...pictures.map(p => up(p.thickness_mm + 0.4, 1)));
    const heights = pictures.map(p => Math.max(p.bite[1] + 3, ...p.past_bite.flat().map(q => q[1] + 1)));
    return { right, bottom: -bottom, top: up(Math.max(2, ...heights), 2) };
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
    return { metal: `url(#${key}m)`, past: `url(#${key}p)` };
  }

  function bandScale(pictures) {
    const peak = Math.max(1e-6, ...pictures.flatMap(p => p.profile.map(q => q[1])));
    const decade = 10 ** Math.floor(Math.log10(peak / 3));
    return [1, 2, 5, 10].map(step => step * decade).find(step => step * 3 >= peak * (1 - 1e-9));
  }

  /* Draw the half section into an svg element.
     options: window and scale shared by several drawings; rim, a line to be drawn over an estimate; bare, without
     ticks; faded; label. */
  function section(svg, picture, options = {}) {
    const view = options.window || windowOf([picture]);
    const scale = options.scale || bandScale([picture]);
    const wide = 640, k = wide / view.right, tall = (view.top - view.bottom) * k, foot = options.bare ? 0 : 34;
    const place = (r, z) => `${(r * k).toFixed(1)},${((view.top - z) * k).toFixed(1)}`;
    svg.replaceChildren();
    svg.setAttribute("viewBox", `0 0 ${wide} ${(tall + foot).toFixed(0)}`);
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", options.label || "");
    const fills = hatches(svg);
    const body = element("svg", { width: wide, height: tall.toFixed(0), overflow: "hidden" }, svg);
    const faded = element("g", { opacity: options.faded ? 0.5 : 1 }, body);
    picture.layers.forEach((layer, n) => layer.loops.forEach(loop => element("path", {
      d: path(loop, place) + "Z", fill: TINTS[n % TINTS.length], stroke: QUIET, "stroke-width": 1 }, faded)));
    picture.past_bite.forEach(loop => element("path", { d: path(loop, place) + "Z", fill: fills.past }, faded));
    drawRim(faded, picture.rim, view, place, fills.metal);
    element("path", { d: `M${place(0, 0)}L${place(view.right, 0)}`, stroke: QUIET, "stroke-dasharray": "2 4" }, faded);
    picture.band.forEach(run => drawBand(faded, run, scale, place));
    const [biteR, biteZ] = picture.bite;
    element("path", { d: `M${place(0, biteZ)}L${place(biteR, biteZ)}`, stroke: INK, "stroke-width": 1.6,
      "stroke-dasharray": "9 4" }, faded);
    if (options.rim) element("path", { d: path(options.rim, place), fill: "none", stroke: INK, "stroke-width": 2.5,
      "stroke-dasharray": "6 4" }, body);
    if (!options.bare) radiusTicks(svg, view, k, tall);
    return scale;
  }

  function drawRim(parent, rim, view, place, fill) {
    const [last, first] = [rim[rim.length - 1], rim[0]];
    const top = Math.max(view.top, ...rim.map(p => p[1])) + 1;
    element("path", { d: path([...rim, [last[0], top], [first[0], top]], place) + "Z", fill }, parent);
    element("path", { d: path(rim, place), fill: "none", stroke: INK, "stroke-width": 2 }, parent);
  }

  function drawBand(parent, run, scale, place) {
    const heads = run.map(([r, z, nr, nz, p]) => [r + nr * p / scale, z + nz * p / scale]);
    element("path", { d: path([...run, ...heads.reverse()], place) + "Z", fill: PALE, stroke: VIOLET,
      "stroke-width": 1.4, "fill-opacity": 0.9 }, parent);
  }

  function radiusTicks(svg, view, k, tall) {
    element("path", { d: `M0,${tall}H${view.right * k}`, stroke: QUIET }, svg);
    for (let r = 0; r <= view.right; r += 5) {
      element("path", { d: `M${r * k},${tall}v5`, stroke: QUIET }, svg);
      words(svg, r ? String(r) : "0 mm", { x: r * k + (r ? 0 : 2), y: tall + 18, fill: QUIET,
        "text-anchor": r ? (r > view.right - 1 ? "end" : "middle") : "start" });
    }
    words(svg, "radius from the axis", { x: view.right * k / 2, y: tall + 32, fill: QUIET, "text-anchor": "middle" });
  }

  function ticks(most, count) {
    const raw = Math.max(most, 1e-9) / count, decade = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map(s => s * decade).find(s => s >= raw);
    const made = [];
    for (let value = 0; value <= most * 1.0001; value += step) made.push(Number(value.toPrecision(12)));
    return made;
  }

  /* Draw pressures: series of { name, profile, look: { colour, dashes }, faded }. */
  function pressure(svg, series, label) {
    const wide = 640, tall = 300, left = 52, right = 10, top = 12, bottom = 44;
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
      words(svg, String(level), { x: left - 6, y: y(level) + 4, "text-anchor": "end", fill: QUIET });
    }
    for (let r = low; r <= high; r += 1) words(svg, String(r), { x: x(r), y: tall - bottom + 17, "text-anchor": "middle", fill: QUIET });
    element("path", { d: `M${left},${tall - bottom}H${wide - right}`, stroke: QUIET }, svg);
    words(svg, "radius, mm", { x: (left + wide) / 2, y: tall - 8, "text-anchor": "middle" });
    words(svg, "pressure, kPa", { x: 14, y: (tall - bottom) / 2, "text-anchor": "middle", transform: `rotate(-90 14 ${(tall - bottom) / 2})` });
    series.forEach(s => drawSeries(svg, s, place));
  }

  function drawSeries(svg, s, place) {
    const group = element("g", { opacity: s.faded ? 0.55 : 1 }, svg);
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

  const unit = text => text.replace("mm2", "mm²").replace("mm3", "mm³");

  function spoken(name, result) {
    return `${name}: sunk ${number(result.sink_mm)} mm, peak ${number(result.peak_pressure_kpa)} kPa at radius ` +
      `${number(result.peak_radius_mm)} mm, felt diameter ${number(result.felt_diameter_mm)} mm, ` +
      `${number(result.intrusion_height_mm)} mm past the bite`;
  }

  return { section, pressure, windowOf, bandScale, number, unit, spoken };
})();
