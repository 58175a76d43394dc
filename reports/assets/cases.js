/* A case's tables in words: a title made from what is set, and what differs between cases. */
"use strict";
const Cases = (() => {
  /* Every value of a case by its key, the title aside; a lip's layers as one value. */
  function flat(tables, head = "") {
    const found = {};
    for (const [key, value] of Object.entries(tables)) {
      const name = head ? `${head}.${key}` : key;
      if (name === "title" || name === "schema") continue;
      if (value && typeof value === "object" && !Array.isArray(value)) Object.assign(found, flat(value, name));
      else found[name] = typeof value === "object" ? JSON.stringify(value) : value;
    }
    return found;
  }

  /* Keys by which some of the cases differ. */
  function differing(cases) {
    const all = cases.map(one => flat(one));
    const keys = [...new Set(all.flatMap(Object.keys))];
    return keys.filter(key => new Set(all.map(one => String(one[key]))).size > 1);
  }

  /* A case's own values of some keys, in words; beyond `most` they are counted. */
  function told(tables, keys, labelOf, most = 3) {
    const values = flat(tables);
    const words = keys.filter(key => key in values).map(key => `${labelOf(key)} ${short(values[key])}`);
    const more = words.length > most ? [`${words.length - most} more`] : [];
    return [...words.slice(0, most), ...more].join(", ");
  }
  const short = value => (String(value).startsWith("[") ? "of its own" : typeof value === "number" ? Labrum.number(value) : String(value));

  function title(tables) {
    const { rim, lip, load } = tables;
    const shape = "outline_mm" in rim ? "rim drawn as an outline" : `${rim.inner_diameter_mm} × ${rim.width_mm} mm rim, bite ${rim.bite_radius_mm} mm`;
    const beside = [load.friction ? `friction ${load.friction}` : "", load.muscle_activation ? `muscle ${load.muscle_activation}` : ""];
    return [shape, `${lip.type || "a lip of its own"}${lip.type ? " lip" : ""}`, `${load.force_n} N`, ...beside].filter(Boolean).join(", ");
  }
  /* Has the mouth's pressure anything of this lip to push on? */
  const breathPushes = lip => lip.backing === "sliding" || lip.tooth_gap_radius_mm > 0 || lip.opening_radius_mm > 0;
  return { differing, told, title, breathPushes };
})();
