// The visit page. What is entered goes into an outbox on this device first, and from there to the
// program, in order, as often as it takes; only what the program confirmed is called saved.
// Text from the job file is only ever put in as text, never as markup.

import { hearingPart, recordingRequest } from "./hearing.js";

const RETRY_MS = 3000;
const QUIET_MS = 500;
const REFRESH_MS = 30000;
const SEND_LIMIT_MS = 20000;
const PHOTOGRAPH_LIMIT_MS = 120000;
const HEARD_WITHIN_MS = 2500;
const NOT_SEEN = "not seen";
const NOT_APPLICABLE = "doesn't apply";
const DOOR = "door/";
const RUNS = 3;

const job = document.body.dataset.job;
const main = document.getElementById("main");
const notices = document.getElementById("notices");

// ---- small helpers

/** An element with attributes and children; strings become text. */
function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name in element && typeof value !== "string") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(9).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

const button = (text, onclick, more = {}) => h("button", { type: "button", onclick, ...more }, text);

function randomId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** A value kept by this browser for this job; lost values are no harm. */
const kept = {
  get(name) {
    try { return localStorage.getItem(`visit-${job}-${name}`); } catch { return null; }
  },
  set(name, value) {
    try { localStorage.setItem(`visit-${job}-${name}`, value); } catch { /* nothing depends on it */ }
  },
};

const device = kept.get("device") || randomId();
kept.set("device", device);

const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;
const minutes = (value) => `${Math.round(value)}`;

// ---- the outbox on this device

const outbox = {
  db: null,
  entries: [], // of this job, in order
  others: 0, // entries of other jobs
  lasting: true,

  async open() {
    try {
      this.db = await new Promise((resolve, reject) => {
        const asked = indexedDB.open("assess-visit", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("outbox", { keyPath: "id" });
        asked.onsuccess = () => resolve(asked.result);
        asked.onerror = () => reject(asked.error);
        asked.onblocked = () => reject(new Error("blocked"));
      });
      const all = await this.run("readonly", (store) => store.getAll());
      this.entries = all.filter((entry) => entry.job === job).sort((a, b) => a.at - b.at || a.turn - b.turn);
      this.others = all.length - this.entries.length;
    } catch {
      this.lasting = false;
    }
  },

  run(mode, act) {
    return new Promise((resolve, reject) => {
      const transaction = this.db.transaction("outbox", mode);
      const asked = act(transaction.objectStore("outbox"));
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  },

  async keep(entry) {
    if (!this.db) return;
    try {
      await this.run("readwrite", (store) => store.put(entry));
    } catch {
      this.lasting = false;
    }
  },

  async drop(entry) {
    this.entries = this.entries.filter((other) => other.id !== entry.id);
    if (this.db) await this.run("readwrite", (store) => store.delete(entry.id)).catch(() => {});
  },

  /** Put something in; a newer answer takes the place of one that was turned down. */
  async add(kind, about, sent, more = {}) {
    const turned = this.entries.filter((e) => e.kind === kind && e.about === about && e.state !== "waiting");
    const replaces = kind === "answer" || kind === "tell" || kind === "hear";
    const dropped = replaces ? turned.map((entry) => this.drop(entry)) : [];
    const entry = { id: randomId(), job, kind, about, sent, at: Date.now(), turn: ++turn, state: "waiting", ...more };
    this.entries.push(entry); // before anything is waited for: the next tap builds on it
    await Promise.all([...dropped, this.keep(entry)]);
    showStatus();
    return entry;
  },

  get waiting() { return this.entries.filter((entry) => entry.state === "waiting"); },
  get turned() { return this.entries.filter((entry) => entry.state !== "waiting"); },
};
let turn = 0;

/** Why nothing is sent at the moment: kind and message, or null. */
let trouble = null;
let sending = null;
let retry = 0;

function send() {
  clearTimeout(retry);
  sending ??= sendAll().finally(() => { sending = null; showStatus(); });
  return sending;
}

async function sendAll() {
  let sent = 0;
  for (let entry = outbox.waiting[0]; entry; entry = outbox.waiting[0]) {
    if (!(await sendOne(entry))) {
      retry = setTimeout(send, RETRY_MS);
      return;
    }
    sent += 1;
    showStatus();
  }
  if (sent) refreshSoon();
}

/** Send one entry; whether the program has dealt with it. */
async function sendOne(entry) {
  const answer = await call(...request(entry));
  if (answer.ok) {
    // What is known changes with what waits: a tap while the browser deletes must not find neither.
    const dropped = outbox.drop(entry);
    confirmed(entry, answer.body);
    await dropped;
    return true;
  }
  if (answer.kind !== "refused" && answer.kind !== "contradicted") return false;
  Object.assign(entry, { state: answer.kind, message: answer.message, there: answer.body.there });
  await outbox.keep(entry);
  settle(entry, { fault: answer.message });
  showNotices();
  showHeard();
  return true;
}

function request(entry) {
  const own = { id: entry.id, device };
  if (entry.kind === "hear") return recordingRequest("/hear", own, entry.sent, entry.file);
  if (entry.kind !== "photograph") {
    const body = JSON.stringify({ ...own, ...entry.sent });
    return [`/${entry.kind}`, { method: "POST", body, headers: { "Content-Type": "application/json" } }];
  }
  const query = new URLSearchParams({ ...own, about: entry.about });
  const headers = { "Content-Type": "application/octet-stream" };
  return [`/photograph?${query}`, { method: "POST", body: entry.file, headers }, PHOTOGRAPH_LIMIT_MS];
}

/** Ask the program for something; never throws. Sets what is the trouble, if any. */
async function call(path, options = {}, limit = SEND_LIMIT_MS) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), limit);
  try {
    const response = await fetch(path, { ...options, signal: stop.signal, credentials: "same-origin" });
    const body = await response.json();
    const kind = response.ok ? "" : body.error || "failed";
    const settled = response.ok || kind === "refused" || kind === "contradicted";
    trouble = settled ? null : { kind, message: body.message };
    return { ok: response.ok, kind, body, message: body.message };
  } catch {
    trouble = { kind: "lost", message: "" };
    return { ok: false, kind: "lost", body: {}, message: "" };
  } finally {
    clearTimeout(timer);
    showStatus();
  }
}

// What waits to hear of an entry: resolved with what the program said, or after a while with null.
const hearing = new Map();

function heard(entry) {
  return new Promise((resolve) => {
    hearing.set(entry.id, resolve);
    setTimeout(() => settle(entry, null), HEARD_WITHIN_MS);
  });
}

function settle(entry, said) {
  hearing.get(entry.id)?.(said);
  hearing.delete(entry.id);
}

function confirmed(entry, said) {
  confirmations += 1;
  if (visit && entry.kind === "fill") putCells(entry);
  const question = visit && lookUp(entry.about);
  if (question && (entry.kind === "answer" || entry.kind === "tell")) {
    question.answer = said.answer;
    if (entry.kind === "answer") question.done = true;
    if (entry.sent.note) question.note = entry.sent.note === "-" ? "" : entry.sent.note;
  }
  if (entry.kind === "hear") {
    heardLast.set(entry.about, said);
    showHeard();
  }
  if (visit && entry.kind === "photograph") {
    (question || visit).photographs += 1;
    showPictures();
  }
  if (said.cautions?.length) warn(question?.asks || "", said.cautions);
  for (const doubt of said.doubts || []) warn("", [doubt]);
  settle(entry, said);
}

// ---- what the program knows

let visit = null;
let arrivedAt = 0;
let confirmations = 0;

let soon = 0;

/** Fetch what is asked next once nothing more is being entered: working it out takes a moment. */
function refreshSoon() {
  clearTimeout(soon);
  soon = setTimeout(() => (outbox.waiting.length ? refreshSoon() : refresh()), QUIET_MS);
}

async function refresh() {
  const before = confirmations;
  const answer = await call("/visit");
  if (!answer.ok) return false;
  if (confirmations !== before) return refresh(); // it may be older than what was saved meanwhile
  visit = answer.body;
  arrivedAt = Date.now();
  document.getElementById("title").textContent = visit.title;
  document.title = `Visit: ${visit.title}`;
  if (visit.door.first) kept.set("door", "open");
  showNav();
  showClock();
  redraw();
  return true;
}

/** A question of the walk, or of the door, by its id. */
function lookUp(id) {
  if (!id) return null;
  if (!id.startsWith(DOOR)) return visit.questions[id] || null;
  const found = visit.door.questions.find((question) => DOOR + question.id === id);
  if (found && found.answer === undefined) found.answer = found.given;
  return found || null;
}

/** The newest answer to a question that waits to be saved. */
function pending(id) {
  return outbox.entries.filter((e) => e.about === id && (e.kind === "answer" || e.kind === "tell")).at(-1);
}

/** What the answer to a question is now, in words; empty when there is none. */
function present(id) {
  const question = lookUp(id);
  return pending(id)?.shown ?? (question.answer || question.said || "");
}

const skipped = new Set();
const askedAgain = new Set();
const trail = [];

function doorIds() {
  return visit.door.questions.map((question) => DOOR + question.id);
}

function isAsked(id) {
  return !skipped.has(id) && !pending(id) && lookUp(id);
}

/** The question to ask now; null at the end. */
function nextId() {
  if (kept.get("door") === "open") {
    const door = doorIds().find((id) => isAsked(id) && !present(id));
    if (door) return door;
    kept.set("door", "done");
  }
  const next = visit.next.find((id) => isAsked(id) && !lookUp(id).done);
  if (next) return next;
  const danger = [...skipped].find((id) => {
    const question = lookUp(id);
    return question?.danger && !question.done && !pending(id) && !askedAgain.has(id);
  });
  if (danger) {
    askedAgain.add(danger);
    skipped.delete(danger);
  }
  return danger || null;
}

function order() {
  return [...doorIds(), ...visit.stops.flatMap((stop) => stop.questions)];
}

function stopOf(id) {
  return visit.stops.find((stop) => stop.questions.includes(id)) || null;
}

// ---- the head of the page

function showStatus() {
  const waiting = outbox.waiting.length;
  const turned = outbox.turned.length;
  const why = trouble && ({ lost: "no connection", closed: "page closed", file: "job file unusable" }[trouble.kind] || "program failed");
  const parts = [waiting && `${waiting} waiting`, turned && `${counted(turned, "needs", "need")} you`, why];
  const text = parts.filter(Boolean).join(", ") || "saved";
  const status = document.getElementById("status");
  if (status.textContent !== text) status.textContent = text;
  showNotices();
}

function showClock() {
  if (!visit) return;
  const spent = visit.clock.spent + (Date.now() - arrivedAt) / 60000;
  const agreed = visit.clock.agreed;
  const text = agreed ? `${minutes(spent)} of ${minutes(agreed)} min` : `${minutes(spent)} min`;
  document.getElementById("clock").textContent = text;
}

function showNav() {
  const screens = [["", "Questions"], ["overview", "Overview"]];
  for (const grid of visit?.grids || []) screens.push([`grid/${grid.id}`, gridName(grid)]);
  screens.push(["craftsman", "Craftsman"]);
  const here = screenNow();
  const links = screens.map(([hash, text]) => {
    const current = hash ? here.startsWith(hash.split("/")[0]) : here === "" || here.startsWith("q/") || here.startsWith(DOOR);
    return h("a", { href: `#${hash}`, "aria-current": current ? "page" : null }, text);
  });
  document.getElementById("nav").replaceChildren(...links);
}

const gridName = (grid) => grid.title.split(":")[0];

const cautions = [];

function warn(about, texts) {
  for (const text of texts) {
    if (!cautions.some((caution) => caution.text === text)) cautions.push({ about, text });
  }
  showNotices();
}

let noticed = "";

/** What must not be missed, over every screen: cautions, trouble, and answers turned down. */
function showNotices() {
  const parts = cautions.map((caution) => h("div", { class: "care" },
    h("b", {}, caution.about ? `Take care (${caution.about})` : "Take note"),
    h("p", {}, caution.text),
    button("I have read it", () => {
      cautions.splice(cautions.indexOf(caution), 1);
      showNotices();
    })));
  const waiting = outbox.waiting.length;
  const safe = waiting ? ` ${counted(waiting, "entry waits", "entries wait")} here and will be sent.` : "";
  if (trouble?.kind === "closed") {
    parts.push(h("div", { class: "fault" }, `The program was started again, or is another one. Open the address that the terminal shows now.${safe}`));
  } else if (trouble?.kind === "file") {
    parts.push(h("div", { class: "fault" }, h("p", {}, `The job file cannot be used now.${safe}`), h("p", {}, trouble.message),
      button("Try again", () => (waiting ? send() : refresh()))));
  } else if (trouble?.kind === "failed") {
    parts.push(h("div", { class: "fault" }, `The program failed (${trouble.message}).${safe} See the terminal.`));
  }
  if (!outbox.lasting) {
    parts.push(h("div", { class: "fault" }, "This browser keeps nothing for this page. Do not close it before it says saved."));
  }
  if (outbox.turned.length && screenNow() !== "turned") {
    parts.push(h("div", { class: "fault" },
      h("a", { class: "button", href: "#turned" }, `${counted(outbox.turned.length, "entry needs", "entries need")} you`)));
  }
  const now = parts.map((part) => part.textContent).join("\n");
  if (now === noticed) return;
  noticed = now;
  notices.replaceChildren(...parts);
}

// ---- screens

const screenNow = () => decodeURIComponent(location.hash.slice(1)).replace(/^main$/, "");

function go(screen) {
  if (screenNow() === screen) draw();
  else location.hash = screen;
}

let drawn = "";
let cleanUp = () => {};

function draw() {
  if (!visit) return;
  const screen = screenNow();
  cleanUp();
  cleanUp = () => {};
  document.body.classList.toggle("wide", screen.startsWith("grid/"));
  showNav();
  showNotices();
  drawn = screen;
  const content = contentOf(screen);
  main.replaceChildren(...content);
  const heading = main.querySelector("h1");
  if (heading) {
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }
  scrollTo(0, 0);
}

function contentOf(screen) {
  if (screen.startsWith("q/")) return questionScreen(screen.slice(2));
  if (screen.startsWith(DOOR)) return questionScreen(screen);
  if (screen === "overview") return overviewScreen();
  if (screen.startsWith("grid/")) return gridScreen(screen.slice(5));
  if (screen === "craftsman") return craftsmanScreen();
  if (screen === "turned") return turnedScreen();
  const next = nextId();
  return next ? questionScreen(next) : endScreen();
}

/** Draw again what is not being typed in. */
function redraw() {
  if (drawn === "overview" || drawn === "turned") {
    if (!main.contains(document.activeElement) || document.activeElement.tagName === "H1") draw();
  } else if (drawn.startsWith("grid/")) showCells();
  else if (drawn === "craftsman") showCraftsman();
  else showPresent();
}

let current = "";
let showPresent = () => {};
let showCells = () => {};
let showHeard = () => {};
let showCraftsman = () => {};

function ahead() {
  go("");
}

function goTo(id) {
  skipped.delete(id);
  go(id.startsWith(DOOR) ? id : `q/${id}`);
}

function back() {
  let earlier = trail.pop();
  if (earlier === current) earlier = trail.pop();
  if (!earlier) {
    const sequence = order();
    const here = sequence.indexOf(current);
    earlier = sequence[(here < 0 ? sequence.length : here) - 1];
  }
  if (earlier) goTo(earlier);
}

function skip() {
  trail.push(current);
  skipped.add(current);
  ahead();
}

let lastStop = "";

function questionScreen(id) {
  const question = lookUp(id);
  if (!question) return [h("h1", {}, "This question is not asked now"), button("Next question", ahead, { class: "main" })];
  current = id;
  const answered = h("p", { class: "present" });
  showPresent = () => {
    const text = lookUp(id) ? present(id) : "";
    const note = pending(id)?.sent.note || lookUp(id)?.note;
    answered.replaceChildren(...(text ? ["Answer now: ", h("b", {}, text), note ? ` / ${note}` : ""] : []));
  };
  showPresent();
  const fault = h("p", { class: "fault", role: "alert", hidden: true });
  return [
    ...arrival(id),
    h("h1", {}, question.asks),
    question.danger && askedAgain.has(id) ? h("p", {}, "Skipped before. It is about a danger to people.") : null,
    question.tools?.length ? h("p", { class: "soft" }, `Needs: ${question.tools.join(", ")}`) : null,
    answered,
    fault,
    ...answerParts(id, question, fault),
    question.how ? h("details", {}, h("summary", {}, "How to look"), h("p", {}, question.how)) : null,
    id.startsWith(DOOR) ? null : photographPart(id, question),
    h("div", { class: "foot" }, h("div", {}, button("Back", back), button("Skip", skip))),
  ].filter(Boolean);
}

/** Where to go and what to open, in full on arriving there. */
function arrival(id) {
  if (id.startsWith(DOOR)) return [h("p", { class: "stop" }, visit.door.title)];
  const stop = stopOf(id);
  if (!stop) return [];
  const heading = h("p", { class: "stop" }, stop.title);
  const arrived = stop.id !== lastStop;
  lastStop = stop.id;
  if (!stop.opens.length) return [heading];
  const opening = [
    h("ul", {}, stop.opens.map((text) => h("li", {}, `${text}.`))),
    ...stop.cautions.map((text) => h("div", { class: "care" }, h("b", {}, "Take care"), text)),
  ];
  if (arrived) return [heading, h("div", { class: "open" }, h("p", {}, h("b", {}, "Open now")), opening)];
  return [heading, h("details", {}, h("summary", {}, "How it is opened, and cautions"), opening)];
}

function answerParts(id, question, fault) {
  const note = noteField(id, question);
  const give = (words, chosen, runs = "", shown = words) => save(id, question, words, chosen, note.value(runs), shown, fault);
  if (question.kind === "choice") return [choices(id, question, (o) => give(o.value ?? o.label, true, "", o.label)), note.part(give)];
  if (question.kind === "several") return [several(question, give)];
  if (question.kind === "count") return [counter(question, give), asides(give, id), note.part(give)];
  if (question.kind === "time") return [stopwatch(question, give), asides(give, id), note.part(give)];
  return [numberField(id, question, give), id.startsWith(DOOR) ? null : asides(give, id), note.part(give)];
}

/** Put an answer into the outbox; move on when it was heard or cannot be heard soon. */
async function save(id, question, words, chosen, note, shown, fault) {
  const door = id.startsWith(DOOR);
  const option = chosen && question.options?.find((o) => (o.value ?? o.label) === words);
  if (option?.cautions?.length) warn(question.asks, option.cautions);
  const was = question.answer ?? (door ? "" : null);
  const sent = door ? { question: question.id, words, was } : { question: id, words, chosen, note, was };
  fault.hidden = true;
  const asked = location.hash;
  const entry = await outbox.add(door ? "tell" : "answer", id, sent, { shown, asks: question.asks });
  const sure = chosen && !door;
  const hear = sure ? null : heard(entry);
  send();
  const said = await hear;
  if (said?.fault && current === id) {
    fault.textContent = said.fault;
    fault.hidden = false;
    if (entry.state === "refused") await outbox.drop(entry);
    showStatus();
    showPresent();
    return;
  }
  trail.push(id);
  // Whoever went to another screen meanwhile stays there, even if it is not drawn yet.
  if (current === id && location.hash === asked) ahead();
}

function choices(id, question, give) {
  const now = present(id);
  const row = (option, aside) => h("li", { class: aside ? "aside" : null },
    button(option.label, () => give(option), { "aria-pressed": String(option.label === now) }));
  const rows = question.options.map((option) => row(option, false));
  const more = id.startsWith(DOOR) ? [] : [NOT_SEEN, NOT_APPLICABLE].map((label) => row({ label }, true));
  return h("ul", { class: "answers", "aria-label": "Answers" }, rows, more);
}

function asides(give, id) {
  const now = present(id);
  return h("ul", { class: "answers", "aria-label": "Other answers" }, [NOT_SEEN, NOT_APPLICABLE].map((label) =>
    h("li", { class: "aside" }, button(label, () => give(label, true), { "aria-pressed": String(label === now) }))));
}

function several(question, give) {
  const chosen = new Set(question.options.filter((o) => (question.answer || "").split(", ").includes(o.label)).map((o) => o.value));
  // A title may hold a comma itself, so whole titles are looked for as well.
  for (const o of question.options) if ((question.answer || "").includes(o.label)) chosen.add(o.value);
  const rows = question.options.map((option) => {
    const tick = button(option.label, () => {
      if (!chosen.delete(option.value)) chosen.add(option.value);
      tick.setAttribute("aria-pressed", String(chosen.has(option.value)));
      done.disabled = !chosen.size;
    }, { "aria-pressed": String(chosen.has(option.value)) });
    return h("li", {}, tick);
  });
  const titles = () => question.options.filter((o) => chosen.has(o.value)).map((o) => o.label).join(", ");
  const done = button("Save these", () => give([...chosen].join(" "), false, "", titles()), { class: "main grow", disabled: !chosen.size });
  return h("div", {}, h("ul", { class: "answers", "aria-label": "Tick all that are true" }, rows), h("div", { class: "row" }, done));
}

function numberField(id, question, give) {
  const free = question.kind === "text";
  const field = h("input", { type: "text", id: "number", autocomplete: "off", inputmode: free ? "text" : "decimal" });
  const submit = (event) => {
    event.preventDefault();
    if (field.value.trim()) give(field.value.trim(), false);
  };
  const other = question.unit && button("Other unit", () => {
    field.inputMode = "text";
    field.focus();
  }, { class: "plain" });
  const label = question.unit ? `A number in ${question.unit}` : question.kind === "year" ? "A year" : free ? "In words" : "A number";
  return h("form", { onsubmit: submit }, h("label", { for: "number" }, label),
    h("div", { class: "field" }, field, question.unit ? h("span", {}, question.unit) : null),
    h("div", { class: "row" }, h("button", { type: "submit", class: "main grow" }, "Save"), other || null));
}

function counter(question, give) {
  let count = Number.isInteger(Number.parseInt(question.answer, 10)) ? Number.parseInt(question.answer, 10) : null;
  const shown = h("b", {}, "0");
  const field = h("input", { type: "text", id: "count", inputmode: "numeric", autocomplete: "off" });
  const done = h("button", { type: "submit", class: "main grow" }, "Save 0");
  const show = (value) => {
    count = value;
    shown.textContent = String(value ?? 0);
    done.textContent = `Save ${value ?? 0}`;
    field.value = "";
  };
  const tap = button([shown, h("span", {}, "one more")], () => show((count ?? 0) + 1), { class: "tap" });
  const less = button("\u2212", () => show(Math.max(0, (count ?? 0) - 1)), { "aria-label": "One less" });
  const submit = (event) => {
    event.preventDefault();
    give(field.value.trim() || String(count ?? 0), false);
  };
  field.addEventListener("input", () => { done.textContent = `Save ${field.value.trim() || count || 0}`; });
  show(count);
  return h("form", { onsubmit: submit }, h("div", { class: "counter" }, less, tap),
    h("label", { for: "count", class: "label" }, "or type how many"),
    h("div", { class: "field" }, field, done),
    h("div", { class: "row" }, button("Count again from 0", () => show(0), { class: "plain" })));
}

// ---- the stopwatch

const seconds = (value) => value.toFixed(1);

function middle(runs) {
  const sorted = [...runs].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

function runsNote(runs) {
  if (!runs.length) return "";
  const names = ["", "one run", "two runs", "three runs"];
  return `${names[runs.length]} ${runs.map(seconds).join(", ")}`;
}

const RUNS_NOTE = /(^|;)\s*(one run|two runs|three runs) [\d., ]+/;

function stopwatch(question, give) {
  const runs = [];
  let began = null;
  let frame = 0;
  const face = h("p", { class: "watch", "aria-hidden": "true" }, "0.0 s");
  const start = button("Start", () => (began === null ? run() : stop()));
  const list = h("ol", { class: "runs", "aria-label": "Runs" });
  const said = h("p", { class: "soft", role: "status" });
  const field = h("input", { type: "text", id: "seconds", inputmode: "decimal", autocomplete: "off" });
  const tick = () => {
    face.textContent = `${seconds((performance.now() - began) / 1000)} s`;
    frame = setTimeout(tick, 100);
  };
  const run = () => {
    if (runs.length === RUNS) runs.length = 0;
    began = performance.now();
    start.textContent = "Stop";
    start.classList.add("main");
    tick();
  };
  const stop = () => {
    clearTimeout(frame);
    runs.push(Math.round((performance.now() - began) / 100) / 10);
    began = null;
    face.textContent = `${seconds(runs.at(-1))} s`;
    start.classList.remove("main");
    show();
  };
  const show = () => {
    const counts = runs.length === RUNS ? runs.indexOf(middle(runs)) : -1;
    list.replaceChildren(...Array.from({ length: RUNS }, (_, n) =>
      h("li", { class: n === counts ? "counts" : null }, runs[n] === undefined ? "\u2013" : `${seconds(runs[n])} s`)));
    start.textContent = runs.length === RUNS ? "Start three new runs" : runs.length ? `Start run ${runs.length + 1}` : "Start";
    said.textContent = watchSaid(runs);
    field.value = runs.length ? seconds(middle(runs)) : "";
    again.hidden = !runs.length;
  };
  const again = button("Drop the last run", () => {
    runs.pop();
    show();
  }, { class: "plain" });
  const submit = (event) => {
    event.preventDefault();
    const typed = field.value.trim();
    if (!typed) return;
    const timed = runs.length && typed === seconds(middle(runs));
    give(timed ? `${typed} s` : typed, false, timed ? runsNote(runs) : "", timed ? `${typed} s` : typed);
  };
  cleanUp = () => clearTimeout(frame);
  show();
  return h("form", { onsubmit: submit }, face, start, list, said,
    h("label", { for: "seconds", class: "label" }, "What counts, or type the seconds"),
    h("div", { class: "field" }, field, h("span", {}, "s"), h("button", { type: "submit", class: "main grow" }, "Save")),
    h("div", { class: "row" }, again));
}

function watchSaid(runs) {
  if (!runs.length) return "Three runs; the middle one counts.";
  if (runs.length < RUNS) return `${counted(RUNS - runs.length, "more run")} to go.`;
  const spread = Math.max(...runs) - Math.min(...runs);
  return `The middle one counts: ${seconds(middle(runs))} s. Spread ${seconds(spread)} s.`;
}

// ---- notes and photographs

function noteField(id, question) {
  const field = h("textarea", { id: "note", rows: 2, maxlength: "2000" });
  field.value = pending(id)?.sent.note ?? question.note ?? "";
  const before = field.value;
  // Runs of the stopwatch take the place of earlier ones; a dash takes an older note away.
  const value = (runs = "") => {
    const text = runs ? [field.value.replace(RUNS_NOTE, "").trim(), runs].filter(Boolean).join("; ") : field.value.trim();
    return text === before.trim() ? "" : text || "-";
  };
  const part = (give) => {
    if (id.startsWith(DOOR)) return null;
    const saveNote = button("Save the note", () => {
      const answer = question.answer;
      if (answer && value()) give(answer, question.kind === "choice" || answer === NOT_SEEN || answer === NOT_APPLICABLE);
    }, { hidden: !question.answer });
    return h("details", { open: Boolean(before) }, h("summary", {}, "Note"),
      h("label", { for: "note", class: "label" }, "Saved with the answer"), field, h("div", { class: "row" }, saveNote));
  };
  return { value, part };
}

let showPictures = () => {};

function photographPart(about, question) {
  const saved = () => (lookUp(about) || visit).photographs;
  const count = () => saved() + outbox.entries.filter((e) => e.kind === "photograph" && e.about === about).length;
  const said = h("span", { class: "soft", role: "status" });
  const kept = h("ul", { class: "pictures" });
  const show = () => {
    said.textContent = count() ? counted(count(), "photograph") : "";
    for (let number = kept.children.length; number < saved(); number++) {
      const address = `/photograph?${new URLSearchParams({ about, number })}`;
      kept.append(h("li", {}, h("img", { src: address, alt: `Photograph ${number + 1}`, loading: "lazy" })));
    }
  };
  const input = h("input", { type: "file", id: "photograph", accept: "image/*", capture: "environment", onchange: async () => {
    for (const file of input.files) {
      await outbox.add("photograph", about, {}, { file, asks: question?.asks || "The whole", shown: file.name });
    }
    input.value = "";
    show();
    send();
  } });
  showPictures = show;
  show();
  return h("details", { open: count() > 0 }, h("summary", {}, question ? "Photograph" : "Photograph of the whole"),
    h("label", { for: "photograph", class: "label" }, "From the camera, or a file"), input, h("p", {}, said), kept);
}

// ---- overview

function overviewScreen() {
  const list = h("div");
  const field = h("input", { type: "search", id: "find", autocomplete: "off", oninput: () => show() });
  const show = () => {
    const words = field.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
    list.replaceChildren(...(words.length ? foundList(words) : stopLists()));
  };
  show();
  const others = outbox.others ? h("p", { class: "fault" },
    `${counted(outbox.others, "entry of another job file waits", "entries of other job files wait")} on this device. Serve that file again to send.`) : null;
  return [h("h1", {}, "Overview"), h("label", { for: "find" }, "Find a question by a word"), field, others, list,
    photographPart("whole", null)].filter(Boolean);
}

function foundList(words) {
  const text = (id) => `${lookUp(id).asks} ${id.replaceAll("_", " ")}`.toLocaleLowerCase();
  const found = order().filter((id) => lookUp(id) && words.every((word) => text(id).includes(word)));
  if (!found.length) return [h("p", { role: "status" }, "No question has that in it.")];
  return [h("ul", { class: "list" }, found.map(questionRow))];
}

function stopLists() {
  const now = stopOf(current);
  const here = current.startsWith(DOOR) || now?.title === visit.door.title ? DOOR : now?.id;
  // What the owner tells is one list, though the questions at the door are answers of another kind.
  const told = visit.stops.filter((stop) => stop.title === visit.door.title).flatMap((stop) => stop.questions);
  const others = visit.stops.filter((stop) => stop.title !== visit.door.title);
  const stops = [{ id: DOOR, title: visit.door.title, questions: [...doorIds(), ...told] }, ...others];
  return stops.map((stop) => {
    const done = stop.questions.filter((id) => present(id)).length;
    return h("details", { open: stop.id === here },
      h("summary", {}, h("b", {}, stop.title), h("span", { class: "soft" }, `${done} of ${stop.questions.length}`)),
      h("ul", { class: "list" }, stop.questions.map(questionRow)));
  });
}

function questionRow(id) {
  const answer = present(id);
  const waiting = pending(id) ? " (waiting)" : "";
  const toCome = id.startsWith(DOOR) || visit.next.includes(id);
  const open = skipped.has(id) ? "skipped" : toCome ? "to be asked" : "not in the time left";
  const state = answer ? h("span", {}, answer + waiting) : h("span", { class: "soft" }, open);
  return h("li", {}, h("a", { href: `#${id.startsWith(DOOR) ? id : `q/${id}`}`, onclick: () => skipped.delete(id) },
    h("span", {}, lookUp(id).asks), state));
}

function endScreen() {
  current = "";
  const list = (title, ids) => (ids.length ? [h("h2", {}, title), h("ul", { class: "list" }, ids.filter(lookUp).map(questionRow))] : []);
  const open = [...skipped].filter((id) => lookUp(id) && !present(id));
  return [
    h("h1", {}, "Nothing is left to ask"),
    h("p", {}, "Close what was opened, and look round once more before you leave."),
    ...list("Skipped", open),
    ...list("Not in the time left", visit.no_time.filter((id) => !skipped.has(id))),
    ...visit.no_tool.flatMap((missing) => list(`Waits for a tool: ${missing.tool}`, missing.questions)),
    h("div", { class: "row" }, h("a", { class: "button", href: "#overview" }, "Overview")),
  ];
}

// ---- what needs the person

function turnedScreen() {
  const rows = outbox.turned.map((entry) => (entry.state === "contradicted" ? contradiction(entry) : refusal(entry)));
  if (!rows.length) return [h("h1", {}, "Nothing needs you"), button("Next question", ahead, { class: "main" })];
  return [h("h1", {}, "This needs you"), ...rows];
}

async function resolved(act) {
  await act();
  showStatus();
  draw();
  send();
}

function refusal(entry) {
  return h("section", {}, h("h2", {}, entry.asks || "Entry"), h("p", {}, `You entered: ${entry.shown}`),
    h("p", { class: "fault" }, entry.message),
    h("div", { class: "row" },
      entry.kind === "answer" || entry.kind === "tell" ? button("Go to the question", () => goTo(entry.about)) : null,
      button("Drop this entry", () => resolved(() => outbox.drop(entry)))));
}

function contradiction(entry) {
  const cells = Array.isArray(entry.there) ? entry.there : null;
  const said = cells
    ? h("ul", {}, cells.map((cell) => h("li", {}, `${Object.values(cell.key).join(" ")}: there ${cell.there || "nothing"}, yours ${cell.text || "nothing"}`)))
    : h("ul", {}, h("li", {}, "In the job file: ", h("b", {}, entry.there)), h("li", {}, "Yours: ", h("b", {}, entry.shown)));
  const mine = () => resolved(async () => {
    if (cells) entry.sent.cells = cells.map(({ there, ...cell }) => ({ ...cell, was: there }));
    else entry.sent.was = entry.there;
    entry.state = "waiting";
    await outbox.keep(entry);
  });
  return h("section", {}, h("h2", {}, entry.asks || "Entry"),
    h("p", {}, "Something else was saved here meanwhile, from another device or by hand. Which is right?"), said,
    h("div", { class: "row" }, button("Keep what is there", () => resolved(async () => {
      await outbox.drop(entry);
      await refresh();
    })), button("Save yours", mine)));
}

// ---- the grid

const sameKey = (row, key) => Object.entries(key).every(([c, text]) => (row[c] || "").toLocaleLowerCase() === text.toLocaleLowerCase());

function gridScreen(id) {
  const grid = visit.grids.find((g) => g.id === id);
  if (!grid) return [h("h1", {}, "There is no such grid")];
  const sets = knownSets(grid);
  const state = gridStates.get(id) || { set: sets[0] || null, from: null, to: null, mark: null };
  gridStates.set(id, state);
  state.set ??= sets[0] || null;
  return [h("h1", {}, gridName(grid)), ...(state.set ? gridParts(id, state, sets) : [setPart(grid, state, sets)])];
}

const gridStates = new Map();
const setName = (grid, set) => grid.by.map((column) => set[column.id]).filter(Boolean).join(" ");

/** Every set that the file, the outbox or this screen knows. */
function knownSets(grid) {
  const added = JSON.parse(kept.get(`sets-${grid.id}`) || "[]");
  const found = new Map();
  for (const row of [...grid.rows, ...added]) {
    const set = Object.fromEntries(grid.by.map((column) => [column.id, row[column.id] || ""]));
    found.set(setName(grid, set).toLocaleLowerCase(), set);
  }
  return [...found.values()];
}

function setPart(grid, state, sets) {
  const pick = h("fieldset", {}, h("legend", {}, `Which ${grid.by.map((c) => c.id).join(" and ")}`), h("div", { class: "marks" },
    sets.map((set) => radio("set", setName(grid, set), state.set && setName(grid, set) === setName(grid, state.set), () => {
      state.set = set;
      draw();
    }))));
  const fields = grid.by.map((column) => {
    const name = `by-${column.id}`;
    const field = column.choices.length
      ? h("select", { id: name }, column.choices.map((choice) => h("option", { value: choice }, choice || "first")))
      : h("input", { type: "text", id: name, autocomplete: "off", maxlength: "60" });
    return { column, field, part: h("div", { class: "grow" }, h("label", { for: name, class: "label" }, column.id), field) };
  });
  const add = (event) => {
    event.preventDefault();
    const set = Object.fromEntries(fields.map(({ column, field }) => [column.id, field.value.trim()]));
    if (fields.some(({ column, field }) => !column.choices.length && !field.value.trim())) return;
    kept.set(`sets-${grid.id}`, JSON.stringify([...JSON.parse(kept.get(`sets-${grid.id}`) || "[]"), set]));
    state.set = set;
    draw();
  };
  return h("div", {}, sets.length ? pick : null, h("details", { open: !sets.length }, h("summary", {}, sets.length ? "Another one" : "Name it first"),
    h("form", { onsubmit: add }, h("div", { class: "row" }, fields.map((f) => f.part)),
      h("div", { class: "row" }, h("button", { type: "submit" }, "Add it")))));
}

function radio(name, text, checked, onchange) {
  return h("label", {}, h("input", { type: "radio", name, checked: Boolean(checked), onchange }), h("span", {}, text));
}

function gridParts(id, state, sets) {
  const grid = () => visit.grids.find((g) => g.id === id);
  const now = grid();
  state.mark ??= { column: now.mark.id, text: now.mark.choices[1] ?? now.mark.choices[0] };
  const span = compass(now, state);
  const title = `${setName(now, state.set)}, ${state.from} to ${state.to}`;
  const cells = h("div", { class: "cells" });
  const first = now.cells.indexOf(state.from);
  for (const [name, width] of [["line", now.line], ["half", now.line / 2]]) {
    cells.style.setProperty(`--${name}`, width);
    cells.style.setProperty(`--${name}-from`, (first % width) + 1);
  }
  showCells = () => {
    const held = document.activeElement?.dataset?.cell;
    cells.replaceChildren(...namesOf(grid(), state).map((name) => cell(id, state, name)));
    if (held) cells.querySelector(`[data-cell="${CSS.escape(held)}"]`)?.focus();
  };
  showCells();
  const rest = button(`All others: ${now.mark.choices[0]}`, () => {
    const open = namesOf(grid(), state).filter((name) => !rowOf(grid(), state, name)[now.mark.id]);
    if (open.length) fill(id, open.map((name) => change(grid(), state, name, now.mark.id, now.mark.choices[0])));
  });
  return [h("details", {}, h("summary", {}, title), setPart(now, state, sets), span), ...(now.hears ? [listeningPart(now, state)] : []), cells, h("div", { class: "row" }, rest), markPart(id, state)];
}

const heardLast = new Map(); // by grid, what was heard in the last recording

/** Where a recording of the set that is shown is taken or chosen. */
function listeningPart(grid, state) {
  const own = grid.hears.options.find((option) => option.column === grid.row);
  const first = own && h("select", { id: "first-cell" }, h("option", { value: "" }, "not sure"),
    namesOf(grid, state).map((name) => h("option", { value: name, selected: name === state.from }, name)));
  const entries = (waits) => outbox.entries.filter((e) => e.kind === "hear" && e.about === grid.id && (e.state === "waiting") === waits);
  state.soFar = new Map();
  const listening = hearingPart({
    h, button, call, device, randomId,
    first: own ? h("div", {}, h("label", { for: "first-cell", class: "label" }, own.says), first) : null,
    options: () => Object.fromEntries(grid.hears.options.map((option) =>
      [option.id, (option === own ? first.value : state.set[option.column]) || ""])),
    add: async (sent, file) => {
      heardLast.delete(grid.id);
      await outbox.add("hear", grid.id, sent, { file, shown: sent.name, asks: gridName(grid) });
      send();
    },
    preview: (rows) => {
      state.soFar = new Map(rows.map((row) => [row[grid.row], row]));
      showCells();
    },
    waiting: () => entries(true).length,
    turned: () => entries(false),
    drop: (entry) => resolved(() => outbox.drop(entry)),
    result: () => heardLast.get(grid.id),
  }, grid);
  showHeard = listening.show;
  cleanUp = () => {
    showHeard = () => {};
    listening.leave();
  };
  return listening.part;
}

/** At the foot, near the thumb: what a tap means, and the number of a cell. */
function markPart(id, state) {
  const grid = visit.grids.find((g) => g.id === id);
  const marks = [
    ...grid.mark.choices.map((text) => ({ column: grid.mark.id, text })),
    ...(grid.remark?.choices || []).map((text) => ({ column: grid.remark.id, text })),
    ...(grid.number ? [{ column: grid.number.id, text: "" }] : []),
  ];
  const typed = numberPart(id, state);
  typed.hidden = !isNumber(grid, state.mark);
  const pick = h("select", { id: "mark", onchange: () => {
    state.mark = marks[pick.selectedIndex];
    typed.hidden = !isNumber(grid, state.mark);
    showCells();
  } }, marks.map((mark) => h("option", { selected: mark.column === state.mark.column && mark.text === state.mark.text },
    mark.text || `${mark.column}, typed`)));
  return h("div", { class: "foot" }, typed, h("div", {}, h("label", { for: "mark" }, "A tap means"), pick));
}

const isNumber = (grid, mark) => grid.number !== null && mark.column === grid.number.id;

function namesOf(grid, state) {
  return grid.cells.slice(grid.cells.indexOf(state.from), grid.cells.indexOf(state.to) + 1);
}

/** From which cell to which; kept by this browser. */
function compass(grid, state) {
  const there = grid.rows.map((row) => grid.cells.indexOf(row[grid.row])).filter((n) => n >= 0);
  const ends = JSON.parse(kept.get(`span-${grid.id}`) || "null") || grid.shown;
  const low = Math.min(grid.cells.indexOf(ends[0]), ...there);
  const high = Math.max(grid.cells.indexOf(ends[1]), ...there);
  state.from = grid.cells[low];
  state.to = grid.cells[high];
  const choose = (label, now, allowed, put) => {
    const select = h("select", { id: `span-${label}`, onchange: () => {
      put(select.value);
      kept.set(`span-${grid.id}`, JSON.stringify([state.from, state.to]));
      draw();
    } }, allowed.map((name) => h("option", { value: name, selected: name === now }, name)));
    return h("div", { class: "grow" }, h("label", { for: select.id, class: "label" }, label), select);
  };
  const part = h("div", { class: "row" },
    choose("Lowest", state.from, grid.cells.slice(0, high + 1), (name) => { state.from = name; }),
    choose("Highest", state.to, grid.cells.slice(low), (name) => { state.to = name; }));
  return part;
}

/** The row of a cell as it is, with what waits to be saved. */
function rowOf(grid, state, name) {
  const key = keyOf(grid, state, name);
  const row = { ...(grid.rows.find((r) => sameKey(r, key)) || {}) };
  for (const entry of outbox.entries) {
    if (entry.kind !== "fill" || entry.about !== grid.id || entry.state !== "waiting") continue;
    for (const cell of entry.sent.cells) if (sameKey(cell.key, key) && sameKey(key, cell.key)) row[cell.column] = cell.text;
  }
  return row;
}

/** Put confirmed cells into the rows that are known, until these are fetched again. */
function putCells(entry) {
  const grid = visit.grids.find((g) => g.id === entry.about);
  for (const cell of entry.sent.cells) {
    let row = grid?.rows.find((r) => sameKey(r, cell.key));
    if (!row) grid?.rows.push(row = { ...cell.key });
    if (row) row[cell.column] = cell.text;
  }
}

function keyOf(grid, state, name) {
  const set = Object.fromEntries(Object.entries(state.set).filter(([, text]) => text));
  return { [grid.row]: name, ...set };
}

function change(grid, state, name, column, text) {
  return { key: keyOf(grid, state, name), column, text, was: rowOf(grid, state, name)[column] || "" };
}

async function fill(id, cells) {
  const grid = visit.grids.find((g) => g.id === id);
  const shown = cells.length > 1 ? `${cells.length} cells` : `${Object.values(cells[0].key).join(" ")}: ${cells[0].text || "nothing"}`;
  await outbox.add("fill", id, { survey: id, cells }, { shown, asks: gridName(grid) });
  showCells();
  send();
}

function cell(id, state, name) {
  const grid = visit.grids.find((g) => g.id === id);
  const soFar = state.soFar?.get(name);
  const row = { ...soFar, ...rowOf(grid, state, name) };
  const mark = row[grid.mark.id] || "";
  const number = grid.number && row[grid.number.id] ? `${row[grid.number.id]} ${grid.number.unit}` : "";
  const remark = grid.remark ? row[grid.remark.id] || "" : "";
  const usual = mark === grid.mark.choices[0];
  const marked = (mark && !usual) || remark;
  const words = [usual ? "" : mark, row[grid.number?.id], remark].filter(Boolean).join(", ");
  const heardMark = grid.hears && row[grid.hears.mark];
  const how = heardMark && (soFar ? "heard so far" : "heard");
  const label = [name, mark || "not tried yet", number, remark, how].filter(Boolean).join(", ");
  return button([name, h("small", {}, words || (usual ? "\u2713" : ""))], () => tapped(id, state, name), {
    class: marked ? "marked" : usual || number ? "usual" : null, "data-cell": name, "aria-label": label, title: heardMark || null,
    "aria-current": state.cell === name && isNumber(grid, state.mark) ? "true" : null,
  });
}

function tapped(id, state, name) {
  const grid = visit.grids.find((g) => g.id === id);
  const { column, text } = state.mark;
  const now = rowOf(grid, state, name)[column] || "";
  if (isNumber(grid, state.mark)) {
    state.cell = name;
    showCells();
    state.focusNumber(name, now);
    return;
  }
  if (column === grid.mark.id) {
    const usual = grid.mark.choices[0];
    const mark = now === text && text !== usual ? usual : text;
    const cells = [change(grid, state, name, column, mark)];
    // A reading does not go with every mark: it was of something else.
    const number = grid.number && rowOf(grid, state, name)[grid.number.id];
    if (number && grid.no_number.includes(mark)) cells.push(change(grid, state, name, grid.number.id, ""));
    fill(id, cells);
    return;
  }
  const parts = now.split(/;\s*/).filter(Boolean);
  const others = parts.filter((part) => part !== text);
  const said = others.length < parts.length ? others : [...parts, text];
  const cells = [change(grid, state, name, column, said.join("; "))];
  if (!rowOf(grid, state, name)[grid.mark.id]) cells.push(change(grid, state, name, grid.mark.id, grid.mark.choices[0]));
  fill(id, cells);
}

/** A field for the number of one cell; Enter goes on to the next cell. */
function numberPart(id, state) {
  const field = h("input", { type: "text", id: "cell-number", inputmode: "text", autocomplete: "off" });
  const label = h("label", { for: "cell-number" }, "Tap a cell first");
  const grid = visit.grids.find((g) => g.id === id);
  state.focusNumber = (name, now) => {
    label.textContent = `${name}, ${grid.number.unit}`;
    field.value = now;
    field.focus();
    field.select();
  };
  const submit = async (event) => {
    event.preventDefault();
    if (!state.cell) return;
    const present = visit.grids.find((g) => g.id === id);
    const name = state.cell;
    const cells = [change(present, state, name, present.number.id, field.value.trim())];
    if (!rowOf(present, state, name)[present.mark.id]) cells.push(change(present, state, name, present.mark.id, present.mark.choices[0]));
    const names = namesOf(present, state);
    const next = names[names.indexOf(name) + 1] || null;
    state.cell = next;
    await fill(id, cells);
    if (next) state.focusNumber(next, rowOf(present, state, next)[present.number.id] || "");
  };
  return h("form", { onsubmit: submit }, h("div", {}, label, field, h("button", { type: "submit", class: "main" }, "Set, next")));
}

// ---- the craftsman's own screen

function craftsmanScreen() {
  const shown = h("div");
  const open = button("Show grade and price", () => {
    open.hidden = true;
    showCraftsman();
  }, { class: "main" });
  showCraftsman = async () => {
    if (!open.hidden) return;
    const answer = await call("/craftsman");
    if (answer.ok && drawn === "craftsman") shown.replaceChildren(...craftsmanParts(answer.body));
    else if (!answer.ok) shown.replaceChildren(h("p", {}, "This needs the connection."));
  };
  return [h("h1", {}, "For the craftsman"), h("p", {}, "This screen shows grade and price. Open it when nobody looks on."), open, shown];
}

function craftsmanParts(data) {
  const list = (title, lines) => (lines.length ? [h("h2", {}, title), h("ul", {}, lines.map((line) => h("li", {}, line)))] : []);
  return [
    h("h2", {}, "Recommendation"),
    data.early ? h("p", {}, data.early) : null,
    data.early ? h("ul", {}, data.untried.map((line) => h("li", {}, line))) : null,
    ...data.recommendation.map((line, n) => h("p", { class: n ? null : "present" }, n ? line : h("b", {}, line))),
    ...list("State", data.state),
    ...list("To look at next", data.looks),
    ...list("Not seen", data.open),
  ].filter(Boolean);
}

// ---- start

addEventListener("hashchange", () => { if (location.hash !== "#main") draw(); else main.focus(); });
addEventListener("online", send);
document.addEventListener("visibilitychange", () => { if (!document.hidden) send().then(refresh); });
setInterval(showClock, 15000);
setInterval(() => { if (!document.hidden && !sending && !outbox.waiting.length) refresh(); }, REFRESH_MS);

async function begin() {
  await outbox.open();
  showStatus();
  await send();
  while (!visit && !(await refresh())) await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
  draw();
  send();
}

begin();
