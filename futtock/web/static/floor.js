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
  let reached = null, outside = false, sending = false, counter = 0;
  const pictures = globalThis.futtockPictures;

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

  function enter(entry, id = newId()) {
    const whole = { ...entry, id, seen: last, sender: sender() };
    keep({ entry: whole, made: Date.now(), state: "waiting", tried: false, words: [] });
    show();
    void send();
    return whole.id;
  }

  // ---- sending ----

  async function send() {
    if (sending) return;
    sending = true;
    let any = false;
    try {
      for (let item = waits()[0]; item; item = waits()[0]) {
        if (!(await sent(item))) break;
        any = true;
        show();
      }
    } finally { sending = false; }
    show();
    if (any) void look(); // what is next is told by the journal
  }

  async function sent(item, again = false) {
    item.tried = true;
    keep(item);
    const picture = item.entry.stage === "photograph" && !item.entry.undo ? await pictures.get(item.entry.id) : null;
    if (picture === undefined) {
      item.state = "refused";
      item.words = ["The picture is no longer on this tablet: take it again."];
      keep(item);
      return true;
    }
    let answer, said = {};
    try {
      answer = await fetch(picture ? "/floor/photographs" : "/floor/entries", asked(item, picture));
      said = (answer.headers.get("content-type") || "").includes("json") ? await answer.json() : {};
    } catch { reached = false; return false; }
    reached = true;
    outside = answer.status === 401;
    if (outside) return false;
    if (answer.status === 403 && !again && (await renewed())) return sent(item, true);
    if (answer.ok && said.id === item.entry.id) {
      item.state = said.told.length ? "told" : "kept";
      item.words = said.told;
      item.says = said.says;
      if (!item.entry.undo) learn(item.entry);
      last = Math.max(last, said.seq);
      if (picture) void pictures.drop(item.entry.id);
    } else if (answer.status === 422) {
      item.state = "refused";
      item.words = [said.refused || "What was sent does not fit."];
    } else return false;
    keep(item);
    return true;
  }

  function asked(item, picture) {
    const whole = { ...item.entry, age_s: Math.max(0, (Date.now() - item.made) / 1000) };
    const headers = { "X-Futtock-Token": token };
    if (!picture) {
      headers["Content-Type"] = "application/json";
      return { method: "POST", headers, body: JSON.stringify(whole), signal: AbortSignal.timeout(20000) };
    }
    const form = new FormData();
    for (const name of ["id", "mark", "who", "text", "seen", "age_s", "sender"]) if (whole[name] !== undefined) form.append(name, whole[name]);
    form.append("picture", picture, "work.jpg");
    return { method: "POST", headers, body: form, signal: AbortSignal.timeout(90000) };
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
      outside = answer.status === 401;
      if (outside) { reached = true; show(); }
      if (!answer.ok) return;
      const said = await answer.json();
      reached = true;
      // what was entered here meanwhile is newer than this answer: it is asked for again after that
      if (said.last < last) return;
      last = said.last;
      for (const [mark, stages] of Object.entries(said.marks)) {
        for (const key of [...done.keys()]) if (key.startsWith(mark + " ")) done.delete(key);
        for (const [stage, by] of Object.entries(stages)) done.set(mark + " " + stage, by);
      }
      for (const li of document.querySelectorAll("[data-check]"))
        li.querySelector(".check-found").textContent = said.checks[li.dataset.check] || "";
      for (const name of ["says", "lead"]) if (byId(name)) byId(name).textContent = said[name];
      showPictures(said.photographs || []);
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

  function showPictures(all) {
    const list = byId("pictures");
    if (!list || list.children.length === all.length) return;
    list.replaceChildren(...all.map(([name, says]) => {
      const li = document.createElement("li"), img = document.createElement("img"), p = document.createElement("p"), a = document.createElement("a");
      a.href = img.src = "/floor/photographs/" + name;
      img.alt = "";
      img.loading = "lazy";
      p.textContent = says;
      a.append(img, p);
      li.append(a);
      return li;
    }));
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
    const held = document.activeElement;
    let following = true;
    for (const li of document.querySelectorAll(".ticks li")) {
      const key = li.dataset.mark + " " + li.dataset.stage, now = state(key), button = li.querySelector("button");
      box(li.querySelector(".tick-box"), now);
      button.disabled = now !== "open";
      button.classList.toggle("following", now === "open" && following);
      if (now === "open") following = false;
      li.querySelector(".tick-by").textContent = now === "done" ? done.get(key) : now === "half" ? "kept here, not sent yet" : "";
    }
    // who works by keys goes on at the next stage
    if (held && held.disabled && held.closest(".ticks")) {
      const next = document.querySelector(".ticks button.following");
      if (next) next.focus({ preventScroll: true });
    }
    for (const li of document.querySelectorAll(".timber-row")) {
      let next = null;
      for (const place of li.querySelectorAll(".tbox")) {
        const now = state(li.dataset.mark + " " + place.dataset.stage);
        box(place, now);
        if (now === "open" && !next) next = place;
      }
      const button = li.querySelector("button.tick");
      button.hidden = !next;
      li.querySelector(".all-done").hidden = Boolean(next);
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
    const let_in = byId("let-in");
    if (let_in) let_in.hidden = !outside;
    let says = outside ? "This tablet must join again. " + (count ? many + " on it." : "") : off ? "No network. " + (count ? many + " on this tablet." : "The page goes on.") : count ? many + " to be sent." : reached ? "Connected." : "";
    if (!safe) says += " This browser keeps nothing: leave the page open until all is sent.";
    if (net.textContent !== says) net.textContent = says;
    net.classList.toggle("off", off || outside || count > 0 || !safe);
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
    if (told) act("aside", "Seen", () => { drop(PREFIX + entry.id); void pictures.drop(entry.id); show(); });
    return li;
  }

  function undo(item) {
    if (item.state === "waiting" && !item.tried) { drop(PREFIX + item.entry.id); void pictures.drop(item.entry.id); show(); return; }
    item.undone = true;
    keep(item);
    done.delete(item.entry.mark + " " + item.entry.stage);
    enter({ mark: item.entry.mark, stage: item.entry.stage, who: who() || item.entry.who, undo: item.entry.id });
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
    const at = button.value.lastIndexOf(" "), taken = form.elements.picture;
    if (taken) {
      if (taken.files.length) void photograph(form, button, taken.files[0]);
      return;
    }
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
  });

  async function photograph(form, button, file) {
    const id = newId(), mark = button.value.slice(0, button.value.lastIndexOf(" "));
    const kept = await pictures.put(id, await pictures.smaller(file));
    if (!kept) safe = false;
    enter({ mark, stage: "photograph", who: who(), text: form.elements.text.value }, id);
    form.reset();
    form.dispatchEvent(new Event("change", { bubbles: true }));
  }

  // A length is found by touch: as drawn, or so many of the finest steps over or short.
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-by]");
    if (!button) return;
    const form = button.closest("form"), field = form.elements.found, near = form.dataset.near.split("|");
    const middle = (near.length - 1) / 2, at = near.indexOf(field.value);
    const by = Number(button.dataset.by), from = at < 0 || by === 0 ? middle : at;
    field.value = near[Math.min(near.length - 1, Math.max(0, from + by))];
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });

  // What was opened opens again without a network, where this browser lets a page ask for that.
  async function keepPage() {
    if (!navigator.serviceWorker || !body.dataset.kept) return;
    try {
      for (const scope of ["/saw", "/traveller", "/bench"]) await navigator.serviceWorker.register("/worker.js", { scope });
      const { active } = await navigator.serviceWorker.ready;
      const parts = [...document.querySelectorAll("link[rel=stylesheet], link[rel=preload], script[src]")].map((e) => e.href || e.src);
      active.postMessage({ keep: [location.pathname, ...parts] });
    } catch { /* the page goes on, but does not open again without a network */ }
  }

  document.addEventListener("DOMContentLoaded", () => {
    const field = byId("who");
    if (field && !field.value) field.value = get("futtock-who") || "";
    if (field) field.addEventListener("input", () => field.closest(".field").classList.remove("bad"));
    for (const item of items()) if (item.state === "kept" && Date.now() - item.made > SHOWN_MS) drop(PREFIX + item.entry.id);
    // a page that opened without a network may be older than what was entered here since
    for (const item of items()) if (!item.undone && !item.entry.undo && ["kept", "told"].includes(item.state)) if (!done.has(item.entry.mark + " " + item.entry.stage)) learn(item.entry);
    byId("send-now").addEventListener("click", () => void send());
    for (const taken of document.querySelectorAll("input[type=file]")) taken.form.addEventListener("change", () => { byId("taken").textContent = taken.files.length ? taken.files[0].name : ""; });
    show();
    void keepPage();
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
