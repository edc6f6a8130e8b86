// A finger or the mouse on the portrait: one touch or stroke is sent, and the outline comes back.
"use strict";

let stroke = null;
const place = (svg, event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
const chosen = () => document.querySelector('input[name="tool"]:checked').value;

document.addEventListener("pointerdown", (event) => {
  const svg = event.target.closest("svg.portrait");
  if (!svg) return;
  event.preventDefault();
  svg.setPointerCapture(event.pointerId);
  const at = place(svg, event);
  stroke = { svg, points: [[at.x, at.y]] };
});
document.addEventListener("pointermove", (event) => {
  if (!stroke || ["point", "keep", "drop"].includes(chosen())) return;
  const at = place(stroke.svg, event), last = stroke.points.at(-1);
  if (Math.hypot(at.x - last[0], at.y - last[1]) < 6) return;
  stroke.points.push([at.x, at.y]);
  stroke.svg.querySelector(".p-now").setAttribute("points", stroke.points.map((p) => p.join(",")).join(" "));
});
document.addEventListener("pointerup", () => {
  if (!stroke) return;
  const { svg, points } = stroke, tool = chosen();
  stroke = null;
  const what = tool === "sound" ? "stroke" : tool;
  const least = { stroke: 2, grain: 2, flaw: 3 }[what] || 1;
  if (points.length < least) { svg.querySelector(".p-now").setAttribute("points", ""); return; }
  const kind = tool === "sound" ? "sound" : tool === "flaw" ? document.getElementById("kind").value : "";
  window.htmx.ajax("POST", "/rack/photo/" + svg.dataset.photo + "/touch", {
    target: "#photo",
    values: { what, kind, points: points.map((p) => p.map((v) => v.toFixed(1)).join(",")).join(" ") },
  });
});
