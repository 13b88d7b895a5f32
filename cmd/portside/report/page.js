"use strict";
for (const svg of document.querySelectorAll("svg.plot")) {
  const rows = JSON.parse(document.getElementById(svg.id + "-trace").textContent);
  const out = document.querySelector('.readout[data-for="' + svg.id + '"]');
  const start = +svg.dataset.start, end = +svg.dataset.end, left = +svg.dataset.left, inner = +svg.dataset.inner;
  const line = svg.querySelector("line").cloneNode();
  line.setAttribute("class", "cursor");
  const full = svg.viewBox.baseVal.height;
  const span = (low, high, unit) => low === null ? "no " + unit : low === high ? low + " " + unit : low + " to " + high + " " + unit;
  let at = -1;
  const show = () => {
    const row = rows[at];
    const x = left + inner * (row[0] - start) / (end - start);
    for (const [k, v] of [["x1", x], ["x2", x], ["y1", 0], ["y2", full]]) line.setAttribute(k, v);
    svg.append(line);
    out.textContent = row[0] + " s: " + span(row[1], row[2], "V") + ", " + span(row[3], row[4], "A");
  };
  const near = (t) => {
    let low = 0, high = rows.length - 1;
    while (low < high) {
      const mid = (low + high + 1) >> 1;
      if (rows[mid][0] <= t) low = mid; else high = mid - 1;
    }
    return low;
  };
  svg.addEventListener("pointermove", (e) => {
    if (rows.length === 0) return;
    const box = svg.getBoundingClientRect();
    const x = (e.clientX - box.left) / box.width * svg.viewBox.baseVal.width;
    at = near(start + (x - left) / inner * (end - start));
    show();
  });
  svg.parentElement.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (!step || rows.length === 0) return;
    e.preventDefault();
    at = Math.min(Math.max(at + step * (e.shiftKey ? 20 : 1), 0), rows.length - 1);
    show();
  });

  // Closer and farther: buttons, keys, Ctrl with the wheel; drag to move along.
  const scroll = svg.parentElement, wide = svg.viewBox.baseVal.width;
  let zoom = 1;
  const closer = (factor, where = 0.5) => {
    const middle = (scroll.scrollLeft + where * scroll.clientWidth) / scroll.scrollWidth;
    zoom = factor === 0 ? 1 : Math.min(Math.max(zoom * factor, 1), 32);
    svg.style.width = zoom === 1 ? "" : zoom * 100 + "%";
    svg.style.maxWidth = zoom === 1 ? "" : "none";
    scroll.scrollLeft = middle * scroll.scrollWidth - where * scroll.clientWidth;
  };
  const bar = document.createElement("p");
  bar.className = "zoom";
  for (const [name, factor] of [["Closer", 2], ["Farther", 0.5], ["Whole", 0]]) {
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = name;
    b.addEventListener("click", () => closer(factor));
    bar.append(b);
  }
  scroll.before(bar);
  scroll.addEventListener("keydown", (e) => {
    const factor = { "+": 2, "-": 0.5, "0": 0 }[e.key];
    if (factor === undefined || e.ctrlKey || e.metaKey) return;
    e.preventDefault();
    closer(factor);
  });
  scroll.addEventListener("wheel", (e) => {
    if (!e.ctrlKey) return;
    e.preventDefault();
    const box = scroll.getBoundingClientRect();
    closer(e.deltaY < 0 ? 1.25 : 0.8, (e.clientX - box.left) / box.width);
  }, { passive: false });
  let held = null;
  // Where a page marks a part by dragging it says so, and the picture stays.
  svg.addEventListener("pointerdown", (e) => { held = e.pointerType === "mouse" && svg.dataset.drag !== "part" ? e.clientX + scroll.scrollLeft : null; });
  addEventListener("pointerup", () => { held = null; });
  svg.addEventListener("pointermove", (e) => { if (held !== null) scroll.scrollLeft = held - e.clientX; });
  svg.addEventListener("show-mark", (e) => {
    scroll.scrollLeft = e.detail / wide * scroll.scrollWidth - scroll.clientWidth / 2;
    svg.scrollIntoView({ block: "nearest" });
  });
}
// A finding's letter leads to the picture, and the picture's letter back.
const lit = (nodes) => {
  for (const n of document.querySelectorAll(".lit")) n.classList.remove("lit");
  for (const n of nodes) n.classList.add("lit");
};
// Each picture has letters of its own.
const marks = [...document.querySelectorAll("svg.plot .mark")], rows = new Map();
for (const cell of document.querySelectorAll("[data-of] tbody td:first-child, [data-of] .which")) {
  const letter = cell.textContent.trim(), of = cell.closest("[data-of]").dataset.of;
  const own = marks.filter((m) => m.ownerSVGElement.id === of && m.dataset.letter === letter);
  if (own.length === 0) continue;
  const b = document.createElement("button"), row = cell.parentElement;
  b.type = "button";
  b.className = "letter";
  b.textContent = letter;
  b.setAttribute("aria-label", letter + ": show in the picture");
  cell.replaceChildren(b);
  for (const m of own) rows.set(m, row);
  b.addEventListener("click", () => {
    lit([...own, row]);
    own[0].ownerSVGElement.dispatchEvent(new CustomEvent("show-mark", { detail: +own[0].querySelector("rect").getAttribute("x") }));
  });
}
for (const m of marks) {
  m.addEventListener("click", () => {
    const row = rows.get(m);
    if (!row) return;
    lit([m, row]);
    row.scrollIntoView({ block: "center" });
    row.querySelector("button").focus({ preventScroll: true });
  });
}
