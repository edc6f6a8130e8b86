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
