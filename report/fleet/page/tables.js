// Sorting, filtering and paging of the page's tables. Cells are built as text.
"use strict";
(() => {
  const thin = "\u202f", svg = "http://www.w3.org/2000/svg";
  const shown = (v, digits) => {
    if (v === null) return "–";
    const [whole, fraction] = Math.abs(v).toFixed(digits).split(".");
    const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, thin) : whole;
    const text = fraction ? grouped + "." + fraction : grouped;
    return v < 0 && /[1-9]/.test(text) ? "−" + text : text;
  };
  const part = (name, attributes) => {
    const e = document.createElementNS(svg, name);
    for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
    return e;
  };
  const range = ([value, low, high], top, mark) => {
    const x = v => (2 + 116 * Math.min(Math.max(v / top, 0), 1)).toFixed(1);
    const drawing = part("svg", {class: "range", viewBox: "0 0 120 14", "aria-hidden": "true"});
    if (mark > 0) drawing.append(part("path", {class: "typical", d: `M${x(mark)} 0V14`}));
    if (low !== null && high !== null) drawing.append(part("path", {class: "span", d: `M${x(low)} 7H${x(high)}`}));
    drawing.append(part("circle", {class: "dot", cx: x(value), cy: 7, r: 3}));
    return drawing;
  };

  for (const grid of document.querySelectorAll(".grid")) {
    const data = JSON.parse(grid.querySelector("script").textContent);
    const body = grid.querySelector("tbody"), heads = [...grid.querySelectorAll("th")];
    const find = grid.querySelector(".find"), group = grid.querySelector(".group"), only = grid.querySelector(".only");
    const count = grid.querySelector(".count"), back = grid.querySelector(".back"), next = grid.querySelector(".next");
    let order = data.rows.map((_, i) => i), by = -1, up = true, at = 0;

    const key = (row, column) => {
      const cell = row[column + 1];
      return data.columns[column].k === 2 ? cell[0] : cell;
    };
    const compare = (a, b) => {
      if (by < 0) return a - b;
      const x = key(data.rows[a], by), y = key(data.rows[b], by);
      if (x === null || y === null) return x === y ? a - b : x === null ? 1 : -1; // what is not known comes last either way
      const c = typeof x === "string" ? x.localeCompare(y) : x - y;
      return (up ? c : -c) || a - b;
    };
    const passes = row => {
      if (only && only.checked && !(row[0] & 1)) return false;
      if (group && group.value && row[data.group + 1] !== group.value) return false;
      const words = find.value.trim().toLowerCase();
      return !words || row.some((cell, i) => i && typeof cell === "string" && cell.toLowerCase().includes(words));
    };
    const line = row => {
      const tr = document.createElement("tr");
      if (row[0] & 1) tr.className = "out";
      else if (row[0] & 2) tr.className = "little";
      data.columns.forEach(({k, d}, c) => {
        const td = document.createElement("td"), text = document.createElement("bdi"), cell = row[c + 1];
        if (k === 0) {
          text.textContent = cell;
          if ([...cell].length <= 24) td.className = "w"; // short enough for one line
        }
        if (k === 1) { td.className = "n"; text.textContent = shown(cell, d); }
        if (k === 2) {
          td.className = "n s";
          const [value, low, high] = cell;
          if (value !== null && data.top > 0) td.append(range(cell, data.top, data.mark));
          text.textContent = shown(value, d) + (value === null || low === null || high === null ? "" : ` (${shown(low, d)} to ${shown(high, d)})`);
        }
        td.append(text);
        tr.append(td);
      });
      return tr;
    };
    const show = () => {
      const kept = order.filter(i => passes(data.rows[i]));
      at = Math.min(at, Math.max(0, Math.ceil(kept.length / data.page) - 1));
      const from = at * data.page, to = Math.min(from + data.page, kept.length);
      body.replaceChildren(...kept.slice(from, to).map(i => line(data.rows[i])));
      count.textContent = kept.length ? `${shown(from + 1, 0)} to ${shown(to, 0)} of ${shown(kept.length, 0)}` : "none";
      back.disabled = at === 0;
      next.disabled = to >= kept.length;
    };

    heads.forEach((th, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...th.childNodes);
      th.append(button);
      button.addEventListener("click", () => {
        up = by === column ? !up : data.columns[column].k === 0; // numbers: greatest first
        by = column;
        heads.forEach(h => h.removeAttribute("aria-sort"));
        th.setAttribute("aria-sort", up ? "ascending" : "descending");
        order.sort(compare);
        at = 0;
        show();
      });
    });
    for (const control of [find, group, only]) control?.addEventListener("input", () => { at = 0; show(); });
    back.addEventListener("click", () => { at--; show(); });
    next.addEventListener("click", () => { at++; show(); });
    grid.querySelector(".more")?.remove();
    grid.querySelector(".tools").hidden = data.rows.length < 6;
    show();
  }
})();
