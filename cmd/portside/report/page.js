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
}
