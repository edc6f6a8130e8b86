// What a page does beyond its links and forms. Everything here has a way without it.
"use strict";

// A refusal of an update is shown, not swallowed.
document.addEventListener("htmx:sendError", () => say("The server does not answer. What you typed stands here; try again."));
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  say(status === 403 ? "This page is out of date. Load it again, and do it once more." : "That could not be done (" + status + ").");
});

function say(words) {
  let note = document.getElementById("said-now");
  if (!note) {
    note = document.createElement("div");
    note.id = "said-now";
    note.className = "note bad";
    note.setAttribute("role", "alert");
    note.append(document.createElement("p"));
    document.getElementById("main").prepend(note);
  }
  note.querySelector("p").textContent = words;
}

// A waiting page loads itself once its step is done: the update is then a whole page.
document.addEventListener("htmx:beforeSwap", (event) => {
  const { xhr, target } = event.detail;
  if (target && target.id === "waiting" && xhr.responseText.includes("<html")) {
    event.detail.shouldSwap = false;
    location.reload();
  }
});

// A list that is chosen from sends its form at once.
document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-at-once]");
  if (form) form.requestSubmit();
});

// By hand: keys press the links that move a timber; a finger or the mouse drags it on the drawing.
document.addEventListener("keydown", (event) => {
  const hand = document.querySelector("[data-hand]");
  if (!hand || event.target.closest("input, select, textarea, [contenteditable]")) return;
  const name = (event.shiftKey && event.key.startsWith("Arrow") ? "shift " : "") + event.key;
  const link = document.querySelector('#hand [data-key="' + CSS.escape(name) + '"]');
  if (link) { event.preventDefault(); link.click(); }
});

let drag = null;
document.addEventListener("pointerdown", (event) => {
  const svg = event.target.closest("[data-hand] svg.drawn");
  const group = event.target.closest('g[data-kind="placement"]');
  const hand = event.target.closest("[data-hand]");
  if (!svg || !group || group.dataset.name !== hand.dataset.mark) return;
  drag = { svg, group, hand, from: at(svg, event) };
  svg.setPointerCapture(event.pointerId);
  event.preventDefault();
});
document.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const now = at(drag.svg, event);
  drag.group.setAttribute("transform", "translate(" + (now.x - drag.from.x) + " " + (now.y - drag.from.y) + ")");
});
document.addEventListener("pointerup", (event) => {
  if (!drag) return;
  const now = at(drag.svg, event), { hand, from } = drag;
  const set = hand.dataset;
  const scale = Number(drag.svg.closest("[data-scale]").dataset.scale);
  const x = Number(set.x) + (now.x - from.x) * scale, y = Number(set.y) - (now.y - from.y) * scale;
  const where = "/layout/timber/" + encodeURIComponent(set.mark) + "?slab=" + encodeURIComponent(set.slab) + "&turn=" + set.turn + "&x=" + x.toFixed(2) + "&y=" + y.toFixed(2) + "&mirrored=" + set.mirrored;
  drag = null;
  if (window.htmx) window.htmx.ajax("GET", where, { target: "#hand" });
  else location.href = where;
});

function at(svg, event) {
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
}
