// What the pages of the desk can do beyond links and forms: they follow the
// shoot, mark frames from one to another, draw a cut. Without this every page
// still works.
"use strict";

// A page of the desk, read anew; null where it can't be.
async function page(at) {
  const answer = await fetch(at, { cache: "no-store", credentials: "same-origin", priority: "high" }); // before the pictures
  return answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
}

// Runs of frames that are not in sight are not laid out: they take the room that
// they will have, so that nothing jumps.
function roomFor(run) {
  const list = run.querySelector(".contact.tight");
  if (!list) return;
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize), wide = run.parentElement.clientWidth - 8, gap = rem / 2;
  const columns = Math.max(1, Math.floor((wide + gap) / (7 * rem + gap))), each = (wide + gap) / columns - gap;
  const rows = Math.ceil(list.childElementCount / columns);
  run.style.containIntrinsicSize = "auto " + wide + "px auto " + Math.round(5.4 * rem + rows * (each + gap)) + "px";
}

// The shoot: parts of the page that stand under data-live are replaced by what
// the server says now; what did not change in them stays as it is, its pictures
// with it. One in which something was begun is left alone, and says so.
function follow() {
  const live = () => document.querySelectorAll("[data-live][id]");
  if (!window.EventSource || !live().length) return;
  const waits = document.getElementById("waits"), served = new Map();
  const html = e => e.outerHTML.replace(/(name="saw" value=")\d+/g, "$1"); // what a form has seen changes with every decision
  const keep = root => { for (const e of [root, ...root.querySelectorAll("[data-live],[data-same]")]) if (e.id) served.set(e.id, html(e)); };
  for (const part of live()) keep(part);
  document.addEventListener("input", e => { const part = e.target.closest("[data-live]"); if (part) part.dataset.begun = "1"; });
  document.addEventListener("focusout", e => { const part = e.target.closest("[data-live]"); if (part && !part.dataset.begun && part.querySelector(".older")) setTimeout(renew); });
  const shown = [location.pathname + location.search]; // what the page is made of
  onward(shown, keep);
  let known = document.body.dataset.state, busy = false, again = false;
  async function renew() {
    if (busy) { again = true; return; }
    busy = true;
    try {
      const docs = [];
      for (const at of shown) docs.push(await page(at));
      if (docs.every(d => d)) replace(docs);
    } catch (e) { /* the desk was stopped; the stream says when it is back */ }
    busy = false;
    if (again) { again = false; renew(); }
  }
  // What the eye rests on stays where it is, whatever grows above it.
  function resting() {
    if (scrollY === 0) return () => {};
    const at = [...document.querySelectorAll("main [id]")].map(e => [e.id, e.getBoundingClientRect()]).find(([, r]) => r.height > 0 && r.top >= 0);
    if (!at) return () => {};
    return () => { const e = document.getElementById(at[0]); if (e) scrollBy({ top: e.getBoundingClientRect().top - at[1].top, behavior: "instant" }); };
  }
  function replace(docs) {
    const doc = docs[0], find = id => { for (const d of docs) { const e = d.getElementById(id); if (e) return e; } return null; };
    const rest = resting(), at = document.activeElement;
    known = doc.body.dataset.state || known;
    for (const part of live()) {
      const now = find(part.id);
      if (part.id === "underway") continue;
      if (!now) { if (part.classList.contains("run") && !part.dataset.begun) part.remove(); continue; }
      if (served.get(part.id) === html(now)) continue;
      if (part.dataset.begun || part.contains(at) && at.matches('select,input:not([type="checkbox"])')) { older(part); continue; }
      const held = part.contains(at) ? [at.tagName, at.getAttribute("href"), at.name, at.value, at.id] : null;
      const open = [...part.querySelectorAll("details[open][id]")].map(d => d.id);
      const fresh = document.importNode(now, true), was = new Map(served);
      keep(fresh);
      let kept = 0;
      for (const e of fresh.querySelectorAll("[data-same]")) {
        const old = document.getElementById(e.id);
        if (old && part.contains(old) && was.get(e.id) === html(e)) { old.classList.remove("fresh"); e.replaceWith(old); kept++; }
        else e.classList.add("fresh");
      }
      for (const id of open) { const d = fresh.querySelector("#" + CSS.escape(id)); if (d) d.open = true; }
      part.replaceWith(fresh);
      roomFor(fresh);
      if (!kept) fresh.classList.add("fresh");
      if (held) {
        const same = [...fresh.querySelectorAll("a,button,input,select,summary")].find(x => x.tagName === held[0] && x.getAttribute("href") === held[1] && x.name === held[2] && x.value === held[3] && x.id === held[4]);
        if (same) same.focus({ preventScroll: true });
      }
    }
    const form = document.getElementById("marking");
    let before = null;
    if (form) for (const run of docs.flatMap(d => [...d.querySelectorAll("section.run[id]")])) {
      let mine = document.getElementById(run.id);
      if (!mine) {
        mine = document.importNode(run, true);
        if (before) before.after(mine);
        else { const first = form.querySelector("section.run"); if (first) first.before(mine); else form.append(mine); }
        keep(mine);
        roomFor(mine);
      }
      before = mine;
    }
    // What is shown now is what forms have seen, but those in which something was begun before.
    const saw = doc.querySelector('main input[name="saw"]');
    if (saw) for (const x of document.querySelectorAll('main input[name="saw"]')) {
      const part = x.closest("[data-live]");
      if (!(part && (part.dataset.begun || part.querySelector(".older"))) && !x.form.querySelector("[data-begun], .older")) x.value = saw.value;
    }
    rest();
  }
  function older(part) {
    if (part.querySelector(".older")) return;
    const p = document.createElement("p"), b = document.createElement("button");
    p.className = "older"; p.setAttribute("role", "status"); b.type = "button"; b.className = "quiet"; b.textContent = "Show it as it is now";
    b.addEventListener("click", () => { delete part.dataset.begun; p.remove(); renew(); });
    p.append("This has changed since you began here. ", b);
    part.prepend(p);
  }
  // A page that nobody sees holds no line: browsers have six to a server.
  let stream = null, lost = 0;
  const silent = document.createElement("p");
  silent.className = "fault"; silent.setAttribute("role", "alert"); silent.textContent = "The desk does not answer: what is shown may be old.";
  function listen() {
    if (stream) return;
    stream = new EventSource("/live");
    stream.addEventListener("hello", e => {
      clearTimeout(lost); lost = 0; silent.remove();
      const n = JSON.parse(e.data);
      if (waits && n) location.reload();
      if (known !== n) renew();
      known = n;
    });
    stream.addEventListener("shoot", waits ? () => location.reload() : renew);
    stream.addEventListener("ingest", e => { const at = document.getElementById("underway"); if (at) at.textContent = JSON.parse(e.data); });
    stream.addEventListener("error", () => { if (!lost) lost = setTimeout(() => document.getElementById("main").prepend(silent), 4000); });
  }
  const seen = () => { if (!document.hidden) listen(); else if (stream) { stream.close(); stream = null; clearTimeout(lost); lost = 0; } };
  document.addEventListener("visibilitychange", seen);
  seen();
}

// The wall of frames goes on by itself where its end comes near.
function onward(shown, keep) {
  const form = document.getElementById("marking");
  if (!form) return;
  const rooms = () => { for (const run of form.querySelectorAll(".run.close")) roomFor(run); };
  rooms();
  addEventListener("resize", rooms);
  const later = () => document.getElementById("later");
  if (!later() || !window.IntersectionObserver) return;
  const watch = new IntersectionObserver(async seen => {
    const at = later();
    if (!at || !seen.some(s => s.isIntersecting)) return;
    watch.unobserve(at);
    const href = at.querySelector("a").getAttribute("href"), doc = await page(href).catch(() => null);
    if (!doc) { setTimeout(() => watch.observe(at), 2000); return; }
    shown.push(href);
    for (const run of doc.querySelectorAll("section.run[id]")) {
      const mine = document.importNode(run, true), begun = document.getElementById(run.id);
      keep(mine);
      if (begun) begun.querySelector(".contact").append(...mine.querySelectorAll(".contact > li")); // a run that goes on
      else form.append(mine);
      roomFor(begun || mine);
    }
    const next = doc.getElementById("later");
    if (next) { at.replaceWith(document.importNode(next, true)); watch.observe(later()); } else at.remove();
  }, { rootMargin: "3000px" });
  watch.observe(later());
}

// Marking frames: with Shift, or with "mark all between two" on, all from the
// one before to this one.
function marking() {
  const form = document.getElementById("marking"), says = document.getElementById("marked"), between = document.getElementById("range");
  if (!form || !says) return;
  between.closest("label").hidden = false;
  let last = null, shift = false;
  form.addEventListener("keydown", e => { shift = e.shiftKey; });
  form.addEventListener("keyup", e => { shift = e.shiftKey; });
  form.addEventListener("pointerdown", e => { shift = e.shiftKey; });
  form.addEventListener("change", e => {
    const box = e.target;
    if (box.name !== "f") return;
    const all = [...form.querySelectorAll('input[name="f"]')];
    if ((shift || between.checked) && last && document.contains(last) && last !== box) {
      const [a, b] = [all.indexOf(last), all.indexOf(box)].sort((x, y) => x - y);
      for (const x of all.slice(a, b + 1)) x.checked = box.checked;
    }
    last = box;
    const n = all.filter(x => x.checked).length;
    says.textContent = n === 0 ? "Mark frames" : n === 1 ? "1 frame marked" : n + " frames marked";
  });
}

// The easel: press a place to see it at full size; with drawing on, drag a cut.
function easel() {
  const easel = document.querySelector(".easel");
  const plate = easel && easel.querySelector(".plate");
  const picture = plate && plate.querySelector("img");
  if (!picture) return;
  const w = +easel.dataset.width, h = +easel.dataset.height;
  const place = e => { const r = picture.getBoundingClientRect(); return [Math.min(Math.max((e.clientX - r.left) / r.width, 0), 1), Math.min(Math.max((e.clientY - r.top) / r.height, 0), 1)]; };
  picture.addEventListener("click", e => {
    const [x, y] = place(e);
    location.href = "/close?a=" + encodeURIComponent(easel.dataset.ref) + "&x=" + (100 * x).toFixed(1) + "&y=" + (100 * y).toFixed(1);
  });
  const form = document.getElementById("cutting"), draw = document.getElementById("draw"), shape = document.getElementById("shape");
  if (!form || !w || !h) return;
  const field = n => form.elements[n];
  const SVG = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(SVG, "svg"), under = document.createElementNS(SVG, "rect"), own = document.createElementNS(SVG, "rect");
  svg.setAttribute("viewBox", "0 0 " + w + " " + h);
  svg.setAttribute("aria-hidden", "true");
  under.setAttribute("class", "under"); own.setAttribute("class", "own");
  svg.append(under, own);
  const handle = document.createElement("button");
  handle.type = "button"; handle.className = "handle";
  handle.setAttribute("aria-label", "The drawn cut: drag, or move it with the arrows");
  handle.setAttribute("aria-describedby", "cuthelp");
  const done = document.createElement("p"), keeps = document.createElement("button");
  keeps.textContent = "Keep this cut"; keeps.setAttribute("form", "cutting");
  done.append(keeps);
  const ratio = () => { const o = shape.selectedOptions[0]; return +o.dataset.w > 0 ? o.dataset.w / o.dataset.h : 0; };
  function show() {
    for (const r of [under, own]) for (const [k, n] of [["x", "x"], ["y", "y"], ["width", "w"], ["height", "h"]]) r.setAttribute(k, field(n).value || 0);
  }
  function put(x, y, cw, ch) {
    const q = ratio();
    cw = Math.min(Math.max(cw, 1), w); ch = Math.min(Math.max(ch, 1), h);
    if (q) { if (cw / ch > q) cw = ch * q; else ch = cw / q; }
    x = Math.min(Math.max(x, 0), w - cw); y = Math.min(Math.max(y, 0), h - ch);
    field("x").value = Math.floor(x); field("y").value = Math.floor(y);
    field("w").value = Math.max(1, Math.floor(cw)); field("h").value = Math.max(1, Math.floor(ch));
    show();
  }
  draw.hidden = false;
  draw.addEventListener("click", () => {
    const on = draw.getAttribute("aria-pressed") !== "true";
    draw.setAttribute("aria-pressed", on);
    easel.classList.toggle("drawing", on);
    // On a phone the picture is far from the button: it comes into sight, and what keeps the cut lies under it.
    if (on) { plate.append(svg, handle); easel.after(done); show(); plate.scrollIntoView({ block: "nearest", behavior: "instant" }); handle.focus({ preventScroll: true }); } else { svg.remove(); handle.remove(); done.remove(); }
  });
  for (const n of ["x", "y", "w", "h"]) field(n).addEventListener("input", show);
  shape.addEventListener("change", () => put(+field("x").value, +field("y").value, +field("w").value, +field("h").value));
  let from = null;
  handle.addEventListener("pointerdown", e => { from = place(e); handle.setPointerCapture(e.pointerId); });
  handle.addEventListener("pointermove", e => {
    if (!from) return;
    const to = place(e), q = ratio();
    let cw = Math.abs(to[0] - from[0]) * w, ch = Math.abs(to[1] - from[1]) * h;
    if (cw < 4 || ch < 4) return;
    if (q) { if (cw / Math.max(ch, 1) > q) cw = ch * q; else ch = cw / q; }
    put(to[0] < from[0] ? from[0] * w - cw : from[0] * w, to[1] < from[1] ? from[1] * h - ch : from[1] * h, cw, ch);
  });
  for (const end of ["pointerup", "pointercancel"]) handle.addEventListener(end, () => { from = null; });
  handle.addEventListener("keydown", e => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (!step) return;
    e.preventDefault();
    const [x, y, cw, ch] = ["x", "y", "w", "h"].map(n => +field(n).value), by = Math.round(Math.max(w, h) / 100);
    if (!e.shiftKey) { // moved, it keeps its size to the pixel
      field("x").value = Math.min(Math.max(x + step[0] * by, 0), w - cw); field("y").value = Math.min(Math.max(y + step[1] * by, 0), h - ch);
      show();
    }
    else { const k = 1 + (step[0] || step[1]) * 0.03; put(x + cw * (1 - k) / 2, y + ch * (1 - k) / 2, cw * k, ch * k); }
  });
}

// Full size: the arrows, and dragging, move to the piece beside; two frames
// move together.
function pieces() {
  const all = document.getElementById("pieces");
  if (!all) return;
  const go = way => { const a = document.querySelector('[data-move="' + way + '"]'); if (a) a.click(); };
  all.addEventListener("keydown", e => {
    const way = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" }[e.key];
    if (way) { e.preventDefault(); go(way); }
  });
  let from = null;
  all.addEventListener("dragstart", e => e.preventDefault());
  all.addEventListener("pointerdown", e => { from = [e.clientX, e.clientY]; });
  all.addEventListener("pointerup", e => {
    if (!from) return;
    const dx = e.clientX - from[0], dy = e.clientY - from[1];
    from = null;
    if (Math.hypot(dx, dy) < 30) return;
    const img = all.querySelector(".piece img"), form = document.querySelector('form[action="/close"]');
    if (!img || !form) return;
    const w = +img.dataset.w, h = +img.dataset.h;
    if (!w || !h) return;
    form.elements.x.value = Math.min(Math.max(+form.elements.x.value - 100 * dx / w, 0), 100).toFixed(1);
    form.elements.y.value = Math.min(Math.max(+form.elements.y.value - 100 * dy / h, 0), 100).toFixed(1);
    form.submit();
  });
}

// The slate: the studio's time, as the desk has it, in a code drawn anew each
// second.
function slate() {
  const code = document.getElementById("clock"), says = document.getElementById("time"), fill = document.getElementById("fill");
  if (!code) return;
  let waiting = false;
  setInterval(async () => {
    if (waiting || document.hidden) return;
    waiting = true;
    try {
      const answer = await fetch("/code/clock", { cache: "no-store", credentials: "same-origin" });
      if (!answer.ok) throw new Error(answer.status);
      const drawn = new DOMParser().parseFromString(await answer.text(), "image/svg+xml").documentElement;
      code.replaceChildren(document.importNode(drawn, true));
      says.textContent = answer.headers.get("X-Studio-Time");
    } catch (e) { code.replaceChildren(); says.textContent = "no clock"; } // an old code would tell a wrong time
    waiting = false;
  }, 1000);
  const page = document.getElementById("slate");
  if (page.requestFullscreen) { fill.hidden = false; fill.addEventListener("click", () => document.fullscreenElement ? document.exitFullscreen() : page.requestFullscreen()); }
}

follow();
slate();
marking();
easel();
pieces();
