// The floor's pages: entries are kept in this browser first, then sent, once, by their own ids.
"use strict";

(() => {
  const body = document.body;
  const VESSEL = body.dataset.vessel;
  const PREFIX = "futtock-entry:" + VESSEL + ":";
  const RETRY_MS = 5000, LOOK_MS = 15000, SHOWN_MS = 12 * 3600e3;
  const byId = (id) => document.getElementById(id);
  const memory = new Map();
  let safe = true; // whether this browser keeps what is entered
  let token = body.dataset.token, last = Number(body.dataset.last || 0);
  let reached = null, sending = false, counter = 0;

  // ---- what is kept in this browser ----

  function put(key, value) {
    try { localStorage.setItem(key, value); memory.delete(key); }
    catch { safe = false; memory.set(key, value); }
  }
  function get(key) {
    if (memory.has(key)) return memory.get(key);
    try { return localStorage.getItem(key); } catch { safe = false; return null; }
  }
  function drop(key) { memory.delete(key); try { localStorage.removeItem(key); } catch { safe = false; } }

  function items() {
    const keys = new Set(memory.keys());
    try { for (let k = 0; k < localStorage.length; k++) keys.add(localStorage.key(k)); } catch { safe = false; }
    const found = [];
    for (const key of [...keys].filter((k) => k.startsWith(PREFIX)).sort()) {
      try { found.push(JSON.parse(get(key))); } catch { /* not one of ours */ }
    }
    return found.filter((i) => i && i.entry);
  }
  function keep(item) { put(PREFIX + item.entry.id, JSON.stringify(item)); }
  const waits = () => items().filter((i) => i.state === "waiting");

  function newId() {
    const random = crypto.getRandomValues(new Uint8Array(8));
    const time = Date.now().toString(16).padStart(12, "0");
    const nth = (counter++ % 4096).toString(16).padStart(3, "0");
    return time + nth + "-" + Array.from(random, (b) => b.toString(16).padStart(2, "0")).join("");
  }
  function sender() {
    let name = get("futtock-tablet");
    if (!name) { name = "tablet " + newId().slice(-4); put("futtock-tablet", name); }
    return name;
  }

  function enter(entry) {
    const whole = { ...entry, id: newId(), seen: last, sender: sender() };
    keep({ entry: whole, made: Date.now(), state: "waiting", tried: false, words: [] });
    show();
    void send();
    return whole.id;
  }

  // ---- sending ----

  async function send() {
    if (sending) return;
    sending = true;
    try {
      for (let item = waits()[0]; item; item = waits()[0]) {
        if (!(await sent(item))) break;
        show();
      }
    } finally { sending = false; }
    show();
  }

  async function sent(item, again = false) {
    item.tried = true;
    keep(item);
    let answer, said = {};
    try {
      answer = await fetch("/floor/entries", {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Futtock-Token": token },
        body: JSON.stringify({ ...item.entry, age_s: Math.max(0, (Date.now() - item.made) / 1000) }),
        signal: AbortSignal.timeout(20000),
      });
      said = (answer.headers.get("content-type") || "").includes("json") ? await answer.json() : {};
    } catch { reached = false; return false; }
    reached = true;
    if (answer.status === 403 && !again && (await renewed())) return sent(item, true);
    if (answer.ok && said.id === item.entry.id) {
      item.state = said.told.length ? "told" : "kept";
      item.words = said.told;
      item.says = said.says;
      if (!item.entry.undo) learn(item.entry);
      last = Math.max(last, said.seq);
    } else if (answer.status === 422) {
      item.state = "refused";
      item.words = [said.refused || "What was sent does not fit."];
    } else return false;
    keep(item);
    return true;
  }

  // After a new start of the server or a lost cookie the page asks for its token anew.
  async function renewed() {
    try {
      const found = /data-token="([0-9a-f]{64})"/.exec(await (await fetch(location.href)).text());
      if (found) token = found[1];
      return Boolean(found);
    } catch { reached = false; return false; }
  }

  // ---- what the journal has, and what waits, on the page ----

  const done = new Map(); // "mark stage" -> by whom
  for (const li of document.querySelectorAll('.ticks [data-state="done"]'))
    done.set(li.dataset.mark + " " + li.dataset.stage, li.querySelector(".tick-by").textContent);
  for (const box of document.querySelectorAll('.tbox[data-state="done"]'))
    done.set(box.closest("li").dataset.mark + " " + box.dataset.stage, "");

  function learn(entry) { done.set(entry.mark + " " + entry.stage, "just now, " + entry.who); }

  async function look() {
    const where = body.dataset.now;
    if (!where || document.hidden) return;
    try {
      const answer = await fetch(where, { headers: { "HX-Request": "true" }, signal: AbortSignal.timeout(15000) });
      if (!answer.ok) return;
      const said = await answer.json();
      reached = true;
      last = Math.max(last, said.last);
      for (const [mark, stages] of Object.entries(said.marks)) {
        for (const key of [...done.keys()]) if (key.startsWith(mark + " ")) done.delete(key);
        for (const [stage, by] of Object.entries(stages)) done.set(mark + " " + stage, by);
      }
      for (const li of document.querySelectorAll("[data-check]"))
        li.querySelector(".check-found").textContent = said.checks[li.dataset.check] || "";
      const list = byId("contested");
      if (list) list.replaceChildren(...said.contested.map(eye));
    } catch { reached = false; }
    show();
  }

  function eye(words) {
    const li = document.createElement("li"), p = document.createElement("p");
    li.className = "eye";
    p.textContent = words;
    li.append(byId("flag").content.cloneNode(true), p);
    return li;
  }

  function box(place, state) {
    if (place.dataset.shows === state) return;
    place.dataset.shows = state;
    place.replaceChildren(byId("box-" + state).content.cloneNode(true));
  }

  function show() {
    const all = items();
    const wait = new Set(all.filter((i) => i.state === "waiting" && !i.entry.undo).map((i) => i.entry.mark + " " + i.entry.stage));
    const state = (key) => (done.has(key) ? "done" : wait.has(key) ? "half" : "open");
    let following = true;
    for (const li of document.querySelectorAll(".ticks li")) {
      const key = li.dataset.mark + " " + li.dataset.stage, now = state(key), button = li.querySelector("button");
      box(li.querySelector(".tick-box"), now);
      button.disabled = now !== "open";
      button.classList.toggle("following", now === "open" && following);
      if (now === "open") following = false;
      li.querySelector(".tick-by").textContent = now === "done" ? done.get(key) : now === "half" ? "kept here, not sent yet" : "";
    }
    for (const li of document.querySelectorAll(".timber-row")) {
      let next = null;
      for (const place of li.querySelectorAll(".tbox")) {
        const now = state(li.dataset.mark + " " + place.dataset.stage);
        box(place, now);
        if (now === "open" && !next) next = place;
      }
      const button = li.querySelector("button.tick");
      if (!button) continue;
      button.hidden = !next;
      if (next) {
        button.value = li.dataset.mark + " " + next.dataset.stage;
        button.querySelector(".tick-word").textContent = next.dataset.label;
      }
    }
    showKept(all);
  }

  function showKept(all) {
    const count = all.filter((i) => i.state === "waiting").length;
    const many = count === 1 ? "1 entry waits" : count + " entries wait";
    const off = reached === false || navigator.onLine === false;
    const net = byId("net");
    let says = off ? "No network. " + (count ? many + " on this tablet." : "The page goes on.") : count ? many + " to be sent." : reached ? "Connected." : "";
    if (!safe) says += " This browser keeps nothing: leave the page open until all is sent.";
    if (net.textContent !== says) net.textContent = says;
    net.classList.toggle("off", off || count > 0 || !safe);
    byId("kept").hidden = all.length === 0;
    byId("kept-says").textContent = count ? many + ", kept in this browser. They are sent, each once, when the network is back." : "All of it is in the journal, but for what is marked.";
    byId("send-now").hidden = count === 0;
    const rows = all.slice(-30).reverse().map(row);
    byId("kept-list").replaceChildren(...rows);
  }

  function row(item) {
    const li = document.createElement("li"), p = document.createElement("p"), { entry } = item;
    li.dataset.state = item.state;
    li.dataset.id = entry.id;
    const told = item.state === "told" || item.state === "refused";
    if (told) { li.className = "eye"; li.append(byId("flag").content.cloneNode(true)); }
    const what = item.says || (entry.undo ? "undo: " : "") + entry.mark + " " + entry.stage.replaceAll("-", " ") + (entry.name ? ", " + entry.name + " " + entry.found : "");
    const how = { waiting: "waits", kept: "kept", told: "kept, but", refused: "not kept" }[item.state];
    const strong = document.createElement("b");
    strong.textContent = what;
    p.append(strong, ", " + entry.who + ": " + how + (item.words.length ? ": " + item.words.join(" ") : "."));
    li.append(p);
    const act = (name, words, does) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "btn small-btn";
      button.textContent = words;
      button.setAttribute("aria-label", words + ": " + what);
      button.addEventListener("click", does);
      li.append(button);
    };
    if (!entry.undo && !item.undone && item.state !== "refused") act("undo", "Undo", () => undo(item));
    if (item.state === "refused") act("again", "Send again", () => { item.state = "waiting"; keep(item); void send(); });
    if (told) act("aside", "Seen", () => { drop(PREFIX + entry.id); show(); });
    return li;
  }

  function undo(item) {
    if (item.state === "waiting" && !item.tried) { drop(PREFIX + item.entry.id); show(); return; }
    item.undone = true;
    keep(item);
    done.delete(item.entry.mark + " " + item.entry.stage);
    enter({ mark: item.entry.mark, stage: item.entry.stage, who: who() || item.entry.who, undo: item.entry.id });
    setTimeout(look, 1500);
  }

  // ---- entering ----

  function who() { const field = byId("who"); return field ? field.value.trim() : ""; }

  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-floor]"), button = event.submitter;
    if (!form || !button || button.name !== "do") return;
    event.preventDefault();
    if (!who()) {
      byId("who").focus();
      byId("who").closest(".field").classList.add("bad");
      return;
    }
    put("futtock-who", who());
    const at = button.value.lastIndexOf(" ");
    const entry = { mark: button.value.slice(0, at), stage: button.value.slice(at + 1), who: who() };
    for (const name of ["because", "text", "name", "found"]) {
      const field = form.elements[name];
      if (field && field.value) entry[name] = field.value;
    }
    if (form.elements.wanted_mm) entry.wanted_mm = Number(form.elements.wanted_mm.value);
    const row = button.closest("[data-slab]"), hidden = form.elements.slab;
    const slab = row ? row.dataset.slab : hidden ? hidden.value : "";
    if (entry.stage === "laid-out" && slab) entry.slab = slab;
    enter(entry);
    for (const name of ["because", "text", "found"]) if (form.elements[name]) form.elements[name].value = "";
    if (["checked", "spoiled", "note"].includes(entry.stage)) setTimeout(look, 1500);
  });

  document.addEventListener("DOMContentLoaded", () => {
    const field = byId("who");
    if (field && !field.value) field.value = get("futtock-who") || "";
    if (field) field.addEventListener("input", () => field.closest(".field").classList.remove("bad"));
    for (const item of items()) if (item.state === "kept" && Date.now() - item.made > SHOWN_MS) drop(PREFIX + item.entry.id);
    byId("send-now").addEventListener("click", () => void send());
    show();
    void send();
    void look();
  });
  addEventListener("online", () => { void send(); void look(); });
  addEventListener("offline", () => { reached = false; show(); });
  addEventListener("storage", show);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { void send(); void look(); } });
  setInterval(() => { if (waits().length) void send(); }, RETRY_MS);
  setInterval(() => void look(), LOOK_MS);
})();
