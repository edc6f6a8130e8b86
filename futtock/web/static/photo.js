// A finger, the mouse or keys on the portrait: one touch or stroke is sent, and the outline comes
// back. On the page of cards the rings are dragged, and the figures below follow.
"use strict";

const place = (svg, event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
const chosen = () => document.querySelector('input[name="tool"]:checked').value;
const ONE = ["point", "keep", "drop", "corner"];

// Nearer and farther: the picture grows within its frame, which then scrolls. Tools of one touch let
// a finger move the picture; those that draw hold it still.
let near = 1, seen = [0, 0];
const room = () => document.querySelector(".photo-room");
function settle() {
  const box = room();
  if (!box) return;
  const svg = box.firstElementChild;
  svg.style.setProperty("--near", near);
  svg.toggleAttribute("data-pans", svg.matches(".cards-by-hand") || ONE.includes(chosen()));
  [box.scrollLeft, box.scrollTop] = seen;
}
document.addEventListener("click", (event) => {
  const by = Number(event.target.dataset?.near), box = room();
  if (!by || !box) return;
  const to = Math.min(8, Math.max(1, near * by));
  // what stood in the middle stays there
  seen = [[box.scrollLeft, box.clientWidth], [box.scrollTop, box.clientHeight]].map(([at, wide]) => (at + wide / 2) * to / near - wide / 2);
  near = to;
  settle();
});
document.addEventListener("change", (event) => { if (event.target.name === "tool") settle(); });
document.addEventListener("htmx:beforeSwap", () => { const box = room(); if (box) seen = [box.scrollLeft, box.scrollTop]; });
document.addEventListener("htmx:afterSwap", settle);
if (room()) { document.getElementById("near").hidden = false; settle(); }

let stroke = null;
document.addEventListener("pointerdown", (event) => {
  const svg = event.target.closest("svg.portrait[data-photo]");
  if (!svg) return;
  event.preventDefault();
  svg.focus({ preventScroll: true });
  svg.setPointerCapture(event.pointerId);
  const at = place(svg, event);
  stroke = { svg, points: [[at.x, at.y]] };
});
document.addEventListener("pointermove", (event) => {
  if (!stroke || ONE.includes(chosen())) return;
  const at = place(stroke.svg, event), last = stroke.points.at(-1);
  if (Math.hypot(at.x - last[0], at.y - last[1]) < 6) return;
  stroke.points.push([at.x, at.y]);
  show(stroke.svg, stroke.points);
});
document.addEventListener("pointerup", () => {
  if (!stroke) return;
  const { svg, points } = stroke;
  stroke = null;
  send(svg, points);
});
document.addEventListener("pointercancel", () => {
  if (stroke) show(stroke.svg, []);
  stroke = null;
});

function show(svg, points) {
  svg.querySelector(".p-now").setAttribute("points", points.map((p) => p.join(",")).join(" "));
}

function send(svg, points) {
  const tool = chosen(), what = tool === "sound" ? "stroke" : tool;
  const least = { stroke: 2, grain: 2, flaw: 3 }[what] || 1;
  if (points.length < least) { show(svg, []); return; }
  const kind = tool === "sound" ? "sound" : tool === "flaw" ? document.getElementById("kind").value : "";
  window.htmx.ajax("POST", "/rack/photo/" + svg.dataset.photo + "/touch", {
    target: "#photo",
    values: { what, kind, points: points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" ") },
  });
}

// By keys: a cross over the picture, and the points set so far.
let cross = null, held = [], back = false;
const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
document.addEventListener("keydown", (event) => {
  const svg = event.target.closest?.("svg.portrait[data-photo]");
  if (!svg) return;
  const box = svg.viewBox.baseVal, step = steps[event.key];
  cross ||= [box.width / 2, box.height / 2];
  if (step) {
    const by = event.shiftKey ? 2 : 12;
    cross = [Math.min(box.width, Math.max(0, cross[0] + step[0] * by)), Math.min(box.height, Math.max(0, cross[1] + step[1] * by))];
  } else if (event.key === " ") {
    held.push([...cross]);
    if (ONE.includes(chosen())) { back = true; send(svg, held); held = []; }
  } else if (event.key === "Enter") {
    if (held.length) { back = true; send(svg, held); }
    held = [];
  } else if (event.key === "Escape") held = [];
  else return;
  event.preventDefault();
  show(svg, held);
  draw(svg);
});
function draw(svg) {
  const [x, y] = cross;
  svg.querySelector(".p-cross").setAttribute("d", "M" + (x - 26) + "," + y + "h52M" + x + "," + (y - 26) + "v52");
}
document.addEventListener("htmx:afterSwap", () => {
  const svg = document.querySelector("svg.portrait[data-photo]");
  if (!svg || !back) return;
  back = false;
  svg.focus({ preventScroll: true });
  draw(svg);
});

// Cards by hand.
const table = document.querySelector("svg.cards-by-hand");
if (table) {
  const field = (card, corner) => document.querySelector('[name="card-' + card + "-" + corner + '"]');
  const NS = "http://www.w3.org/2000/svg";
  let drag = null, adding = null;

  const redraw = (card) => {
    const points = [0, 1, 2, 3].map((j) => field(card, j).value.split(/[,; ]+/).map(Number));
    if (points.some((p) => p.length !== 2 || p.some(Number.isNaN))) return;
    let ring = table.querySelector('.p-card[data-card="' + card + '"]');
    if (!ring) {
      ring = document.createElementNS(NS, "polygon");
      ring.setAttribute("class", "p-card");
      ring.dataset.card = card;
      table.append(ring);
    }
    const text = points.map((p) => p.join(",")).join(" ");
    ring.setAttribute("points", text);
    if (ring.previousElementSibling?.classList.contains("p-under")) ring.previousElementSibling.setAttribute("points", text);
    points.forEach(([x, y], j) => {
      let ring = table.querySelector('.p-handle[data-card="' + card + '"][data-corner="' + j + '"]');
      if (!ring) {
        ring = document.createElementNS(NS, "circle");
        for (const [k, v] of Object.entries({ class: "p-handle", r: 16, tabindex: 0, role: "button", "aria-label": "Corner " + (j + 1) + " of the added card", "data-card": card, "data-corner": j })) ring.setAttribute(k, v);
        table.append(ring);
      }
      ring.setAttribute("cx", x);
      ring.setAttribute("cy", y);
    });
  };
  const put = (card, corner, x, y) => {
    field(card, corner).value = x.toFixed(1) + ", " + y.toFixed(1);
    redraw(card);
  };
  table.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    const at = place(table, event);
    if (adding) {
      put(adding.card, adding.corner, at.x, at.y);
      adding.corner += 1;
      if (adding.corner === 4) { redraw(adding.card); adding = null; }
      return;
    }
    const ring = event.target.closest(".p-handle");
    if (!ring) return;
    ring.focus({ preventScroll: true });
    table.setPointerCapture(event.pointerId);
    drag = { ring, from: at, x: Number(ring.getAttribute("cx")), y: Number(ring.getAttribute("cy")) };
  });
  table.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const at = place(table, event), { card, corner } = drag.ring.dataset;
    put(card, corner, drag.x + at.x - drag.from.x, drag.y + at.y - drag.from.y);
  });
  table.addEventListener("pointerup", () => { drag = null; });
  table.addEventListener("pointercancel", () => { drag = null; });
  table.addEventListener("keydown", (event) => {
    const ring = event.target.closest(".p-handle"), step = steps[event.key];
    if (!ring || !step) return;
    event.preventDefault();
    const by = event.shiftKey ? 10 : 1;
    put(ring.dataset.card, ring.dataset.corner, Number(ring.getAttribute("cx")) + step[0] * by, Number(ring.getAttribute("cy")) + step[1] * by);
  });
  document.addEventListener("change", (event) => {
    const found = /^card-(\d+)-[0-3]$/.exec(event.target.name || "");
    if (found) redraw(found[1]);
  });
  const add = document.getElementById("add-card");
  add.hidden = false;
  add.addEventListener("click", () => {
    let card = 0;
    while (field(card, 0) && field(card, 0).value) card += 1;
    if (!field(card, 0)) return;
    adding = { card, corner: 0 };
    document.querySelector('[name="card-' + card + '-number"]').focus({ preventScroll: true });
    table.scrollIntoView({ block: "start" });
  });
}
