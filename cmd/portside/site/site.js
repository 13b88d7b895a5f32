// Everything works without this: it adds dropped files, progress, and marking a
// part of the picture.
for (const form of document.querySelectorAll("form.upload")) {
  const files = form.querySelector("input[type=file]"), drop = form.querySelector(".drop");
  const status = form.querySelector(".status"), button = form.querySelector("button");
  const say = (text) => { status.textContent = text; };
  const list = () => {
    const names = Array.from(files.files, (f) => f.name);
    say(names.length ? "Chosen: " + names.join(", ") : "");
  };
  files.addEventListener("change", list);
  for (const kind of ["dragenter", "dragover"]) {
    document.addEventListener(kind, (e) => { e.preventDefault(); drop.classList.add("over"); });
  }
  document.addEventListener("dragleave", (e) => { if (!e.relatedTarget) drop.classList.remove("over"); });
  document.addEventListener("drop", (e) => {
    e.preventDefault();
    drop.classList.remove("over");
    if (!e.dataTransfer || !e.dataTransfer.files.length) return;
    files.files = e.dataTransfer.files;
    list();
    form.requestSubmit();
  });
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    const body = new FormData();
    const chosen = Array.from(files.files).sort((a, b) => a.size - b.size);
    const total = chosen.reduce((sum, f) => sum + f.size, 0);
    if (total > +form.dataset.most) {
      say("These files are too large: at most " + form.dataset.limit + " together.");
      return;
    }
    // What is typed goes first and the largest file last: the server analyses that one on its way.
    for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
    for (const f of chosen) body.append("file", f);
    const sent = new XMLHttpRequest(), bar = document.createElement("progress"), words = document.createElement("p");
    bar.setAttribute("aria-label", "Upload");
    bar.max = 100;
    words.textContent = "Sending.";
    status.replaceChildren(words, bar);
    button.disabled = true;
    let told = -1;
    sent.upload.addEventListener("progress", (p) => {
      const share = p.lengthComputable ? Math.floor(100 * p.loaded / p.total) : 0;
      bar.value = share;
      const tenth = Math.floor(share / 10);
      if (tenth !== told) { told = tenth; words.textContent = "Sent " + share + " %."; }
    });
    sent.upload.addEventListener("load", () => { bar.removeAttribute("value"); words.textContent = "Sent. The recording is being analysed."; });
    const failed = (text) => { button.disabled = false; say(text); };
    sent.addEventListener("error", () => failed("The upload broke off. Is the program still running?"));
    sent.addEventListener("load", () => {
      if (sent.status === 200) { location.assign(sent.responseURL); return; }
      const page = new DOMParser().parseFromString(sent.responseText, "text/html");
      const why = page.querySelector(".problem");
      failed(why ? Array.from(why.querySelectorAll("p, li"), (x) => x.textContent).join(" ") : "The answer was " + sent.status + ".");
    });
    sent.open("POST", form.action);
    sent.send(body);
  });
}
for (const form of document.querySelectorAll("form[data-part]")) {
  const svg = document.querySelector("svg.plot");
  if (!svg) continue;
  const from = form.querySelector("[name=from]"), to = form.querySelector("[name=to]"), status = form.querySelector(".status");
  const start = +svg.dataset.start, end = +svg.dataset.end, left = +svg.dataset.left, inner = +svg.dataset.inner;
  const box = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  box.setAttribute("class", "chosen");
  box.setAttribute("y", 0);
  box.setAttribute("height", svg.viewBox.baseVal.height);
  svg.dataset.drag = "part";
  let origin = null;
  const at = (e) => {
    const frame = svg.getBoundingClientRect();
    const x = (e.clientX - frame.left) / frame.width * svg.viewBox.baseVal.width;
    return Math.min(Math.max(start + (x - left) / inner * (end - start), start), end);
  };
  const place = (t) => left + inner * (t - start) / (end - start);
  const short = (t) => String(+t.toPrecision(7));
  svg.addEventListener("pointerdown", (e) => { if (e.button === 0 && e.pointerType === "mouse") { origin = at(e); e.preventDefault(); } });
  addEventListener("pointermove", (e) => {
    if (origin === null) return;
    const a = Math.min(origin, at(e)), b = Math.max(origin, at(e));
    if (place(b) - place(a) < 4) return;
    box.setAttribute("x", place(a));
    box.setAttribute("width", place(b) - place(a));
    svg.append(box);
    from.value = short(a);
    to.value = short(b);
    status.textContent = "Marked: " + from.value + " to " + to.value + " s.";
  });
  addEventListener("pointerup", () => { origin = null; });
}
