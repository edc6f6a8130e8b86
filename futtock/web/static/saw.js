// The guide at the saw: one mark at a time, by touch, key or pedal; it asks the network for nothing.
"use strict";

document.addEventListener("DOMContentLoaded", () => {
  const byId = (id) => document.getElementById(id);
  const cuts = [...document.querySelectorAll("tbody.cut")].map((part, n) => ({
    ...part.dataset,
    marks: [...part.rows].map((row) => row.dataset),
    rule: document.querySelector('template.rule[data-cut="' + n + '"]'),
  }));
  if (!cuts.length) return;
  const guide = byId("guide"), tabs = [...byId("cut-tabs").children];
  const KEY = "futtock-saw:" + [document.body.dataset.vessel, document.body.dataset.mark, document.body.dataset.revision].join(":");
  const BOUNCE_MS = 250;
  let now = { cut: 0, at: cuts.map(() => 0), sawn: cuts.map(() => false) };
  let paused = false, moved = -1e9;
  try {
    const before = JSON.parse(sessionStorage.getItem(KEY));
    if (before && before.at.length === cuts.length && before.at.every((k, n) => k >= 0 && k < cuts[n].marks.length)) now = before;
  } catch { /* begun anew */ }

  function angle(place, mark) {
    const sup = document.createElement("sup"), sign = document.createElement("i");
    sup.textContent = mark.part;
    sign.textContent = "°";
    place.replaceChildren(mark.whole, ...(mark.part ? [sup] : []), sign);
  }

  function show() {
    const cut = cuts[now.cut], k = now.at[now.cut], mark = cut.marks[k], next = cut.marks[k + 1], sawn = now.sawn[now.cut];
    tabs.forEach((tab, n) => {
      tab.setAttribute("aria-pressed", String(n === now.cut));
      tab.querySelector(".cut-state").textContent = now.sawn[n] ? "sawn" : now.at[n] ? "begun" : "";
    });
    byId("g-name").textContent = document.body.dataset.mark + ", " + cut.name;
    byId("g-feed").textContent = "feed " + cut.feed;
    byId("g-paused").hidden = !paused;
    byId("g-when").textContent = sawn ? "at the end" : k ? "angle now" : "set before the cut";
    angle(byId("g-deg"), mark);
    byId("g-hand").textContent = mark.hand;
    byId("g-yours").textContent = mark.hand === "SQUARE" ? "upright" : "of the feeder: " + mark.yours;
    byId("g-scale").textContent = mark.scale ? "scale reads " + mark.scale : "";
    byId("g-ahead").textContent = next ? "next mark in " + mark.ahead : "no mark after this";
    byId("g-next").textContent = next ? next.angle + (next.hand !== mark.hand ? " " + next.hand : "") : "end";
    byId("g-turn").textContent = next ? mark.turn : "";
    byId("g-mark").textContent = "mark " + (k + 1) + " of " + cut.marks.length;
    byId("g-back").disabled = paused || (!k && !sawn);
    byId("g-go").disabled = paused || sawn;
    byId("g-go").textContent = sawn ? "This cut is sawn" : next ? (k ? "At the mark" : "At the next mark") : "Cut ends";
    byId("g-pause").textContent = paused ? "Go on" : "Pause";
    const rule = byId("g-rule");
    if (rule.dataset.cut !== String(now.cut)) {
      rule.dataset.cut = now.cut;
      rule.replaceChildren(cut.rule.content.cloneNode(true));
    }
    rule.querySelector(".r-done").setAttribute("d", "M6,20H" + mark.ruled);
    rule.querySelector(".r-peg").setAttribute("transform", "translate(" + mark.ruled + " 0)");
    for (const text of rule.querySelectorAll("text")) text.classList.toggle("r-near", Number(text.dataset.n) === k || Number(text.dataset.n) === k + 1);
    picture(cut, Number(mark.tangent));
    try { sessionStorage.setItem(KEY, JSON.stringify(now)); } catch { /* only for a reload */ }
  }

  // As the feeder sees it: the blade through the table, the wood kept on its side.
  function picture(cut, tangent) {
    const lean = Math.atan(tangent), x = (y) => 238 - (305 - y) * tangent, left = cut.kept === "left";
    const gap = left ? -9 : 9, far = left ? 60 : 416, other = left ? 416 : 60;
    const edge = (g) => (x(300) + g).toFixed(1) + ",300L" + (x(196) + g).toFixed(1) + ",196";
    byId("p-keep").setAttribute("d", "M" + far + ",300L" + edge(gap) + "H" + far + "Z");
    byId("p-keep-edge").setAttribute("d", "M" + far + ",300V196H" + (x(196) + gap).toFixed(1) + "L" + (x(300) + gap).toFixed(1) + ",300");
    byId("p-waste").setAttribute("d", "M" + edge(-gap) + "H" + other + "V300");
    const end = (along) => (238 - along * Math.sin(lean)).toFixed(1) + "," + (305 - along * Math.cos(lean)).toFixed(1);
    byId("p-blade").setAttribute("d", "M" + end(-60) + "L" + end(225));
    const way = tangent > 0 ? -1 : 1;
    byId("p-arrow").setAttribute("d", tangent ? "M" + (238 + way * 20) + ",36h" + way * 90 + "m" + -way * 26 + ",-22l" + way * 26 + ",22l" + -way * 26 + ",22" : "");
    byId("p-keep-word").setAttribute("x", left ? 76 : 400);
    byId("p-keep-word").setAttribute("text-anchor", left ? "start" : "end");
    byId("p-waste-word").setAttribute("x", left ? 400 : 76);
    byId("p-waste-word").setAttribute("text-anchor", left ? "end" : "start");
  }

  // A pedal that bounces or a finger that touches twice moves one mark only.
  function step(by) {
    const t = performance.now();
    if (paused || t - moved < BOUNCE_MS) return;
    const n = now.cut, end = cuts[n].marks.length - 1;
    if (by > 0 && now.sawn[n]) return;
    moved = t;
    if (by > 0 && now.at[n] === end) now.sawn[n] = true;
    else if (by < 0 && now.sawn[n]) now.sawn[n] = false;
    else now.at[n] = Math.min(end, Math.max(0, now.at[n] + by));
    show();
  }

  const hold = (does) => () => { does(); guide.focus({ preventScroll: true }); };
  byId("g-go").addEventListener("click", hold(() => step(1)));
  byId("g-back").addEventListener("click", hold(() => step(-1)));
  byId("g-pause").addEventListener("click", hold(() => { paused = !paused; show(); }));
  tabs.forEach((tab, n) => tab.addEventListener("click", hold(() => { now.cut = n; paused = false; show(); })));

  document.addEventListener("keydown", (event) => {
    if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.target.closest("input, textarea, select")) return;
    const pressing = event.target.closest("button, a, summary") && [" ", "Enter"].includes(event.key);
    if (pressing) return; // the focused thing takes it
    if ([" ", "Enter", "ArrowRight", "PageDown", "ArrowDown"].includes(event.key)) { event.preventDefault(); step(1); }
    else if (["ArrowLeft", "PageUp", "ArrowUp", "Backspace"].includes(event.key)) { event.preventDefault(); step(-1); }
    else if (event.key === "p" || event.key === "P") { paused = !paused; show(); }
  });

  // The screen is kept on where the browser lets a page ask for it.
  async function stayAwake() {
    const said = byId("awake");
    try {
      const lock = await navigator.wakeLock.request("screen");
      said.textContent = "This screen stays on.";
      lock.addEventListener("release", () => { said.textContent = "The screen may go dark."; });
    } catch { said.textContent = "This browser does not keep the screen on for a page: set the tablet to stay on."; }
  }
  document.addEventListener("visibilitychange", () => { if (!document.hidden) void stayAwake(); });

  document.body.classList.add("guided");
  for (const part of [guide, byId("cut-tabs"), byId("guide-words")]) part.hidden = false;
  guide.tabIndex = -1;
  show();
  guide.focus({ preventScroll: true });
  void stayAwake();
});
