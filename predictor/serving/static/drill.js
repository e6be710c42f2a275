// The page at the drill. Everything it says of a job comes from the server; a weight travels as the text that was typed.
"use strict";

const ASK_MS = 3000;  // between two looks at the state
const TWICE_MS = 150;  // a second tap on the same place within this time is a slip of the glove
const REST_MS = 400;  // a view that a tap led to takes no tap so soon, so that a double tap answers nothing unread
const LEASE_MS = 6000;  // a tab that gave no sign for so long sends no more
const STATE_MS = 20000;  // how long an answer may take
const SAVE_MS = 60000;
const WAITS = [401, 403, 409, 429];  // refusals of the door: the entry itself is not refused
const FILES = { catch: "trials", check: "field", plant: "planted" };
const KEYS = ["1", "2", "3", "⌫", "4", "5", "6", "+ row", "7", "8", "9", "/ part", ".", "0", "oz"];
const NUMBER_KEYS = KEYS.filter(each => each.length === 1);
const LOAD_KEYS = ["1", "2", "3", "⌫", "4", "5", "6", "+", "7", "8", "9", ".", "0"];  // bags and refills, in the unit asked for

const $ = id => document.getElementById(id);
const tab = randomId();
let state = null;  // as the server last gave it
let silent = false;  // whether the laptop does not answer
let notice = "";  // a sentence until the next tap
let door = "";  // why the server let nothing in
const replies = new Map();  // what was said of entries that this page saved, by id
let sending = false;
let looking = false;
let timer = 0;
let lastTap = { at: -TWICE_MS, node: null, view: "" };
let shownView = "";
let seenLease = "";
let seenLeaseAt = 0;

// ---- what the browser keeps

const memory = new Map();  // where the browser keeps nothing, the page does

function kept(name, usual) {
  let text = null;
  try { text = localStorage.getItem(name); } catch { /* the browser keeps nothing */ }
  if (text === null) text = memory.get(name) ?? null;
  if (text === null) return usual;
  try { return JSON.parse(text); } catch { return usual; }
}

function keep(name, value) {
  const text = JSON.stringify(value);
  memory.delete(name);
  try {
    localStorage.setItem(name, text);
    return true;
  } catch {
    memory.set(name, text);
    notice = "This browser keeps nothing. Do not close the page before everything is sent.";
    return false;
  }
}

const queue = () => kept(`queue:${state.job}`, []);
const head = () => queue()[0];
const entryOf = id => queue().find(each => each.id === id);
const enqueue = entry => keep(`queue:${state.job}`, [...queue(), entry]);
const change = (id, what) => keep(`queue:${state.job}`, queue().map(each => each.id === id ? { ...each, ...what } : each));

function remove(id) {
  keep(`queue:${state.job}`, queue().filter(each => each.id !== id));
  setDraft(`ask:${id}`, null);
}

const draft = name => kept(`draft:${state.job}`, {})[name] || { typed: "", chosen: {} };

function setDraft(name, value) {
  const all = kept(`draft:${state.job}`, {});
  if (value === null) delete all[name]; else all[name] = value;
  keep(`draft:${state.job}`, all);
}

function elsewhere() {  // entries of other jobs that wait in this browser
  let count = 0;
  try {
    for (let k = 0; k < localStorage.length; k++) {
      const name = localStorage.key(k);
      if (name.startsWith("queue:") && name !== `queue:${state.job}`) count += kept(name, []).length;
    }
  } catch { /* the browser keeps nothing */ }
  return count;
}

function randomId() {  // it begins with a letter, so that no spreadsheet takes it for a number
  const id = Array.from(crypto.getRandomValues(new Uint8Array(16)), each => each.toString(16).padStart(2, "0")).join("");
  return `a${id.slice(1)}`;
}

// ---- the box in hand

function boxNow() {
  const name = kept(`box:${state.job}`, "");
  const first = state.next && state.next.boxes ? state.next.boxes[0] : "";
  const find = wanted => state.boxes.find(each => each.box === wanted);
  return find(name) || find(first) || state.boxes[0];
}

const boxDraft = () => draft(`box:${boxNow().box}`);
const choose = what => setDraft(`box:${boxNow().box}`, { ...boxDraft(), chosen: { ...boxDraft().chosen, ...what } });

function shown() {  // what the keypad view shows, and a catch is saved with
  const { catch: asked } = boxNow();
  const { lot = asked.lot, setting, turns = asked.turns, rows = asked.rows, counted = asked.counted } = boxDraft().chosen;
  const usual = turns === asked.turns && rows === asked.rows && counted === asked.counted;
  const made = usual ? asked.made : `${turns} ${counted}, ${rows} rows`, { weighed } = asked;
  return { lot, setting: setting ?? (lot === asked.lot ? asked.setting : ""), turns, rows, counted, made, weighed };
}

const follows = box => Boolean(box.answer) && box.catch.lot === box.lot && box.answer.setting === box.catch.setting;

const withUnit = text => /[a-z]$/i.test(text) ? text : `${text} g`;

// ---- letters that fill their place

function fit(node, most, least, holds) {
  const set = size => { node.style.fontSize = `${size}px`; return holds(); };
  if (set(most)) return;
  let low = least, high = most;
  while (high - low > 1) {
    const size = Math.floor((low + high) / 2);
    if (set(size)) low = size; else high = size;
  }
  set(low);
}

const within = node => node.scrollWidth <= node.clientWidth && node.scrollHeight <= node.clientHeight + 1;

const small = () => innerHeight < 421 || (innerHeight < 621 && innerWidth < innerHeight);

function fitAll() {
  if ($("keypad").hidden) return;
  const big = innerWidth >= 1000 && innerHeight >= 600;
  const panel = $("panel"), setting = $("setting");
  fit($("typed"), big ? 64 : 36, 16, () => within($("typed")) && within($("weight")));
  fit($("hint"), big ? 20 : 15, 10, () => within($("hint")));
  $("strip").style.fontSize = "";
  if (small()) fit($("strip"), 14, 9, () => within($("strip")) && within($("weight")));
  fit($("save"), big ? 40 : 26, 14, () => within($("save")));
  for (const each of $("tabs").querySelectorAll("small")) fit(each, big ? 18 : 14, 9, () => within(each));
  // small letters give way until the setting has a good size, then the setting takes what is left
  fit(setting, big ? 160 : small() ? 50 : 96, 24, () => setting.scrollWidth <= setting.clientWidth && setting.clientHeight <= panel.clientHeight * 0.6);
  fit(panel, big ? 26 : innerWidth < 350 ? 15 : 17, 10, () => within(panel));
  fit(setting, big ? 300 : 134, 24, () => within(panel) && setting.scrollWidth <= setting.clientWidth);
}

// ---- pieces of pages

function make(tag, text = "", kind = "") {
  const node = document.createElement(tag);
  node.textContent = text;
  if (kind) node.className = kind;
  return node;
}

function button(text, act, small = "") {
  const node = make("button", text);
  if (small) node.append(make("small", small));
  onTap(node, act);
  return node;
}

function onTap(node, act) {
  node.addEventListener("click", event => {
    // two fingers are quick on two keys of one view; what a tap has just brought into view was not meant
    const again = node === lastTap.node || shownView !== lastTap.view;
    if (again && event.timeStamp - lastTap.at < TWICE_MS) return;
    lastTap = { at: event.timeStamp, node, view: shownView };
    notice = "";
    act();
  });
}

function put(node, ...children) {
  node.replaceChildren(...children.filter(Boolean));
}

function say(node, text) {  // leaves alone what is as it was, so that nothing is read out twice
  if (node.textContent === text) return;
  if (!/[+/]/.test(text)) node.textContent = text;
  else put(node, ...text.match(/[^+/]*[+/]|[^+/]+$/g).flatMap(each => [each, make("wbr")]));  // no weight is broken in two
}

const lines = (texts, kind = "") => texts.filter(Boolean).map(each => make("p", each, kind));

function makeOnce(node, what, build) {  // a part is made again only when what it shows has changed
  const sign = JSON.stringify(what);
  if (node.dataset.sign === sign) return;
  node.dataset.sign = sign;
  put(node, ...build());
}

// ---- views

const view = () => history.state && history.state.view ? history.state : { view: "keypad", depth: 0 };

function go(name, more = {}) {
  history.pushState({ ...more, view: name, depth: view().depth + 1 }, "");
  render();
}

function swap(name, more = {}) {
  history.replaceState({ ...more, view: name, depth: view().depth }, "");
  render();
}

function home() {  // to the keypad; the way back through the browser stays short
  if (view().depth) history.go(-view().depth); else swap("keypad");
}

function render() {
  if (!state || !state.boxes.length) return waitForState();
  const now = settled();
  const page = { keypad, answer: answerView, ask: askView, choose: chooseView, more: moreView, waiting: waitingView }[now.view];
  const place = { choose: "ask", waiting: "more" }[now.view] || now.view;
  for (const each of document.querySelectorAll("main")) each.hidden = each.id !== place;
  page(now);
  const sign = JSON.stringify([now, now.view === "ask" && entryOf(now.id) && entryOf(now.id).question]);
  if (sign !== shownView) arrive($(place), shownView !== "");
  shownView = sign;
  fitAll();
}

function settled() {  // a question that was answered is an answer, and a save that was asked about a question
  const now = view(), asked = now.id && entryOf(now.id) && entryOf(now.id).question;
  const name = now.view === "ask" && !asked ? "answer" : now.view === "answer" && asked ? "ask" : now.view;
  if (name !== now.view) history.replaceState({ ...now, view: name }, "");
  return view();
}

function arrive(place, rest) {
  const title = place.querySelector("h1");
  document.title = title.textContent + " – at the drill";
  title.focus({ preventScroll: true });
  scrollTo(0, 0);
  if (!rest) return;
  // the keys may be tapped at once; SAVE is where NEXT CATCH was
  const asleep = place.id === "keypad" ? [$("save")] : [...place.querySelectorAll("button:enabled")];
  for (const each of asleep) each.disabled = true;
  setTimeout(() => { for (const each of asleep) each.disabled = false; }, REST_MS);
}

function waitForState() {
  for (const each of document.querySelectorAll("main")) each.hidden = each.id !== "more";
  $("more-back").hidden = true;
  shownView = "";
  say($("more-title"), "At the drill");
  const silence = silent ? "The laptop does not answer. What was typed here is kept." : "The laptop is asked for the job.";
  const said = door ? [door] : state ? [...state.problems, "The drill file has no box that can be shown."] : [silence];
  makeOnce($("more-text"), said, () => lines(said));
}

// ---- the keypad

function keypad() {
  const box = boxNow(), now = shown(), chosen = boxDraft().chosen, asked = box.catch;
  tabs(box);
  const advised = follows(box) && now.setting === asked.setting;
  $("panel").className = box.ready && advised ? "ready" : "";
  const none = box.answer && !box.answer.setting && asked.lot === box.lot;  // as out of reach: then no setting is to be used
  say($("verb"), advised ? box.answer.verb.toUpperCase() : none && now.setting === asked.setting ? box.answer.headline : "SET");
  const lot = `${box.box}, ${now.lot || "no lot yet"}`;  // whole, it stands at the head of MORE
  say($("lot"), small() && lot.length > 26 ? `${lot.slice(0, 24)}…` : lot);
  say($("setting"), now.setting || "asked when you save");
  $("setting").className = /[a-z]/i.test($("setting").textContent) ? "words" : "";
  say($("size"), [now.made, asked.charge].filter(Boolean).join(". "));
  say($("target"), [now.lot === asked.lot && now.made === asked.made && asked.target ? `Target ${asked.target}` : "", ...remarksOf(chosen)].filter(Boolean).join(". "));
  say($("source"), chosen.setting || !now.setting ? "" : asked.source);
  strip();
  weightLine();
}

function remarksOf(chosen) {
  return [
    chosen.charged ? "Not charged" : "", chosen.use ? "Not to be used" : "", chosen.fill ? `Box ${chosen.fill} % full` : "",
    chosen.tare ? weighed() : "", chosen.note ? `Note: ${chosen.note}` : "",
  ];
}

function weighed() {  // what is on the scale, as the next catch is saved
  const { tare } = boxDraft().chosen;
  return !tare ? boxNow().catch.weighed : tare === "0" ? "of seed alone" : `with the container of ${withUnit(tare)}`;
}

function tabs(box) {
  const room = Math.floor(($("tabs").clientWidth || innerWidth) / 70);
  const fits = state.boxes.length <= room;
  const seen = fits ? state.boxes : [box];
  const what = [fits, box.box, seen.map(each => [each.box, each.tab])];
  makeOnce($("tabs"), what, () => {
    const made = seen.map(each => {
      const node = button("", () => pick(each.box));
      node.append(make("b", each.box), make("small", each.tab || "no lot yet"));
      node.setAttribute("aria-pressed", String(each.box === box.box));
      return node;
    });
    if (!fits) made.push(button("OTHER BOX", () => go("choose", { field: "box" })));
    return made;
  });
}

function pick(name) {
  keep(`box:${state.job}`, name);
  render();
}

function weightLine() {
  const { typed } = boxDraft();
  say($("typed"), typed ? withUnit(typed) : "– g");
  say($("hint"), typed ? weighed() : state.cautions);
  say($("save"), typed ? `SAVE ${withUnit(typed)}` : "SAVE");
  for (const each of $("keys").children) each.disabled = mixed(typed, each.dataset.sign);
}

// Rows have a plus sign between them, parts a slash: one weight has one of the two.
const mixed = (typed, sign) => (sign === "+" && typed.includes("/")) || (sign === "/" && typed.includes("+"));

function edited(text, sign) {
  const piece = text.split(/[+/]/).pop();
  if (sign === "⌫") return text.endsWith(" oz") ? text.slice(0, -3) : text.slice(0, -1);
  if (sign === "oz") return !piece ? text : text.endsWith(" oz") ? text.slice(0, -3) : `${text} oz`;
  if (sign === "+" || sign === "/") return piece && !mixed(text, sign) ? text + sign : text;
  if (piece.endsWith(" oz") || (sign === "." && piece.includes("."))) return text;
  return text.length < 120 ? text + sign : text;
}

function type(sign) {
  notice = "";
  setDraft(`box:${boxNow().box}`, { ...boxDraft(), typed: edited(boxDraft().typed, sign) });
  render();
}

function buildKeys(place, keys, act) {
  put(place, ...keys.map(text => {
    const sign = text.split(" ")[0];
    const node = button(text, () => act(sign));
    node.dataset.sign = sign;
    node.className = text.length > 1 ? "word" : { 0: "zero", ".": "dot", "+": "plus", "⌫": "delete" }[text] || "";
    if (sign === "⌫") node.setAttribute("aria-label", "Delete the last sign");
    // the focus stays where it is, so that Enter still saves
    node.addEventListener("mousedown", event => event.preventDefault());
    return node;
  }));
  place.className = keys === KEYS ? "keys" : keys === LOAD_KEYS ? "keys numbers loads" : "keys numbers";
}

function strip() {
  const open = stripSays(), place = small() ? $("weight") : $("panel");
  if ($("strip").parentNode !== place) place.append($("strip"));
  $("strip").hidden = !open;
  $("hint").hidden = Boolean(open) && small();  // a small screen has room for one of the two
  makeOnce($("strip"), open && [open.text, open.label], () => {
    if (!open) return [];
    return open.act ? [button(open.text, open.act, open.label)] : lines([open.text]);
  });
}

function stripSays() {
  const all = queue(), first = all[0];
  if (first && first.question) return { text: `${named(first)}: a question waits.`, label: "tap to answer it", act: () => go("ask", { id: first.id }) };
  if (first && first.refused) return { text: `${named(first)} is not saved.`, label: "tap to read why", act: () => go("answer", { id: first.id }) };
  if (door) return { text: door };
  if (all.length) return { text: small() ? waitingWords(all).split(". ")[0] : waitingWords(all), label: "tap to see", act: () => go("waiting") };
  if (notice) return { text: notice };
  if (silent) return { text: "The laptop does not answer. What you save waits here." };
  if (boxNow().open.length) return { text: "A lock waits: something in the log looks like a slip.", label: "tap to look at it", act: () => go("more") };
  if (state.problems.length) return { text: "Something in the files cannot be read.", label: "tap to read it", act: () => go("more") };
  return null;
}

function waitingWords(all) {
  const names = all.map(named).join("; ");
  const catches = all.every(each => each.kind === "catch");
  if (all.length === 1) return `1 ${catches ? "catch" : "entry"} waits: ${names}. It is sent when the laptop answers.`;
  return `${all.length} ${catches ? "catches" : "entries"} wait: ${names}. They are sent when the laptop answers.`;
}

function named(entry) {
  const { kind, values } = entry;
  if (kind === "catch") return `${withUnit(values.catch)}, ${values.box}`;
  if (kind === "undo") return `taking back ${entry.of}`;
  if (kind === "confirm" || kind === "leave_out") return `lines ${values.lines}`;
  return [kind === "check" ? "field check" : "planting", values.box].filter(Boolean).join(" of ");
}

// ---- saving

function add(kind, values, more = {}) {
  const entry = { id: randomId(), kind, day: state.day, shown: more.shown || {}, values, answers: {}, tried: false, ...more };
  enqueue(entry);
  return entry;
}

function saveCatch() {
  const box = boxNow(), { typed, chosen } = boxDraft(), now = shown();
  if (!typed) {
    notice = "Type the weight first.";
    return render();
  }
  const who = kept(`who:${state.job}`, "");
  const values = { box: box.box, lot: now.lot, catch: typed, ...(who ? { operator: who } : {}), ...chosen };
  const entry = add("catch", values, { shown: now, chosen });
  setDraft(`box:${box.box}`, null);
  go("answer", { id: entry.id });
  pump();
}

function begin(kind, values, more = {}) {
  const entry = add(kind, values, more);
  go("answer", { id: entry.id });
  pump();
}

function giveUp(entry, said = []) {
  remove(entry.id);
  if (entry.kind === "catch" && !draft(`box:${entry.values.box}`).typed) {
    setDraft(`box:${entry.values.box}`, { typed: entry.values.catch, chosen: entry.chosen || {} });
    keep(`box:${state.job}`, entry.values.box);
  }
  notice = said.join(" ");
  if (view().id === entry.id) home(); else render();
  pump();
}

function takeBack(entry) {  // OOPS on what was saved here, or may have been
  if (entryOf(entry.id) && !entry.tried) return giveUp(entry, ["It is taken back; it was not sent."]);
  begin("undo", { file: FILES[entry.kind], entry: entry.id }, { of: named(entry) });
}

function answerWith(entry, choice) {
  if (choice.again) return giveUp(entry, ["Nothing was saved."]);
  const { key, name } = entry.question;
  let answers = "answer" in choice ? { ...entry.answers, [key]: choice.answer } : entry.answers, typed = {};
  if (name === "catch" && choice.answer) {  // the weight before is gone, and so is whatever was denied of it
    typed = { catch: choice.answer };
    answers = Object.fromEntries(Object.entries(entry.answers).filter(([, answer]) => answer !== "n"));
  }
  change(entry.id, { answers, values: { ...entry.values, ...(choice.set || {}), ...typed }, question: null });
  setDraft(`ask:${entry.id}`, null);
  swap("answer", { id: entry.id });
  pump();
}

// ---- sending: the head of the queue, and the next one once it is answered

async function pump() {
  if (sending || !state || !leads()) return;
  const entry = head();
  if (!entry || entry.question || entry.refused) return;
  sending = true;
  change(entry.id, { tried: true });
  const job = state.job;
  const { id, kind, day, shown: seen, values, answers } = entry;
  const reply = await ask("/save", SAVE_MS, {
    method: "POST", headers: { "Content-Type": "application/json" },
    body: JSON.stringify({ job, id, kind, day, shown: seen, values, answers }),
  });
  sending = false;
  if (job === state.job) take(entry, reply);
}

async function ask(address, limit, options) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), limit);
  try {
    const reply = await fetch(address, { cache: "no-store", credentials: "same-origin", signal: stop.signal, ...options });
    const body = reply.status === 304 ? null : await reply.json();
    silent = false;
    return { status: reply.status, body };
  } catch {
    silent = true;
    return null;
  } finally {
    clearTimeout(late);
  }
}

function take(entry, reply) {
  if (!reply) return render();
  const { status, body } = reply;
  door = WAITS.includes(status) ? saidBy(body) : "";
  if (door) return render();
  if (body.result === "saved") return saved(entry, body);
  if (body.result === "ask") return asks(entry, body.question);
  if (body.result === "again" && hasPlace(entry)) return giveUp(entry, body.said || []);
  change(entry.id, { [body.result === "unsure" ? "unsure" : "refused"]: body.said || ["The laptop did not take it."] });
  render();
}

const saidBy = body => (body && body.said || []).join(" ") || "The laptop refuses this page.";

function hasPlace({ kind, values: { box } }) {  // whether what is given up can go back to the keys
  return kind !== "catch" || (state.boxes.some(each => each.box === box) && !draft(`box:${box}`).typed);
}

function saved(entry, body) {
  remove(entry.id);
  replies.set(entry.id, { ...body, entry });
  if (body.state) adopt(body.state);
  if (view().id !== entry.id) notice = (body.said || []).join(" ");
  render();
  pump();
}

function asks(entry, question) {
  change(entry.id, { question });
  if (view().id === entry.id) swap("ask", { id: entry.id }); else render();
}

function leads() {  // of several tabs of one browser one sends; ids make it harmless if two do
  if (document.hidden) return false;
  const name = `sender:${state.job}`, lease = kept(name, null);
  if (lease && lease.tab !== tab) {
    const sign = JSON.stringify(lease);
    if (sign !== seenLease) {
      seenLease = sign;
      seenLeaseAt = performance.now();
      return false;
    }
    if (performance.now() - seenLeaseAt < LEASE_MS) return false;
  }
  keep(name, { tab, beat: randomId() });
  return true;
}

function stepDown() {
  if (!state) return;
  const lease = kept(`sender:${state.job}`, null);
  if (lease && lease.tab === tab) keep(`sender:${state.job}`, null);
}

// ---- the state

async function look() {
  clearTimeout(timer);
  if (!looking && !document.hidden) {
    looking = true;
    const reply = await ask("/state", STATE_MS, state ? { headers: { "If-None-Match": `"${state.version}"` } } : {});
    looking = false;
    if (reply) door = [200, 304].includes(reply.status) ? "" : saidBy(reply.body);
    if (reply && reply.status === 200) adopt(reply.body);
    render();
    if (reply && !door) pump();
  }
  clearTimeout(timer);
  timer = setTimeout(look, ASK_MS);
}

function adopt(found) {
  state = found;
  $("more-back").hidden = false;
}

// ---- the answer after a save

function answerView(now) {
  const entry = entryOf(now.id), reply = replies.get(now.id);
  const done = reply && !entry;
  const title = done ? (reply.entry.kind === "undo" ? "Taken back" : "Saved") : entry ? named(entry) : "The answer";
  say($("answer-title"), title);
  const said = done ? reply.said || [] : entry ? entry.refused || [unsent(entry)] : [];
  makeOnce($("said"), said, () => [
    ...lines(said),
    ...(entry && entry.refused ? [button("TRY AGAIN", () => tryAgain(entry.id)), button("GIVE UP", () => giveUp(entry))] : []),
  ]);
  const about = done ? boxAbout(reply) : entry ? null : boxNow();
  makeOnce($("decision"), about && [about, state.cautions, state.messages], () => about ? decision(about) : []);
  const whose = done ? reply.entry : entry;
  $("oops").hidden = !whose || !(whose.kind in FILES) || Boolean(entry && entry.refused);
  const next = nextBox(about);
  say($("next"), next ? `NEXT CATCH: ${next}` : done && reply.entry.kind === "catch" && !(about && about.ready) ? "NEXT CATCH" : "TO THE KEYS");
}

function unsent(entry) {
  if (silent) return "It waits here. It is sent when the laptop answers.";
  if (door) return `It waits here. ${door}`;
  if (entry.unsure) return `${entry.unsure.join(" ")} It is sent again.`;
  return head().id === entry.id ? "It is sent to the laptop." : "It waits until the entries before it are sent.";
}

function tryAgain(id) {
  change(id, { refused: null });
  render();
  pump();
}

const boxAbout = reply => state.boxes.find(each => each.box === (reply.box || reply.entry.values.box)) || null;

function nextBox(about) {  // the next box to catch, where this one is ready
  const first = about && about.ready && state.next && state.next.step === "catch" ? state.next.boxes[0] : "";
  return first && first !== about.box && state.boxes.some(each => each.box === first) ? first : "";
}

function decision(box) {
  const found = box.answer, asked = box.catch;
  if (!found) return lines([...state.messages, state.cautions], "small");
  const panel = make("div", "", box.ready ? "head ready" : "head");
  const headline = make("b", found.headline, found.headline.length > 14 ? "long" : "");
  panel.append(make("span", `${box.box}, ${box.lot}`), headline, ...lines([chanceWords(found)]));
  const should = [found.expected ? `${found.expected} expected` : "", found.usual ? `${found.usual} is usual` : ""].filter(Boolean).join("; ");
  return [
    panel,
    ...lines([
      found.reason,
      box.ready || !found.setting ? "" : `Then catch: ${[asked.made, asked.charge].filter(Boolean).join("; ")}.`,
      should && found.setting && `${box.ready ? "At this setting" : "The next catch"}: ${should}.`,
      found.target && `Target ${found.target}${found.zone ? ` (${found.zone})` : ""}.`,
    ]),
    ...lines([...box.look_at, box.ready && state.next ? state.next.sentence : ""]),
    box.open.length ? button("KEEP OR LEAVE OUT", () => go("more"), "a lock waits for this") : null,
    pair(caught(box)),
    ...lines([...state.messages, state.cautions], "small"),
  ].filter(Boolean);
}

function chanceWords(found) {
  if (!found.chance) return found.not_yet;
  return `${found.not_yet ? `${found.not_yet}: ` : ""}${found.chance}${found.of ? ` that ${found.of}` : ""}`;
}

// ---- questions

function askView(now) {
  const entry = entryOf(now.id);
  const { text, problem, said = [], name, input, usual = "", choices = [] } = entry.question;
  say($("give-up").firstChild, "GIVE UP");
  say($("give-up").lastChild, "save nothing");
  say($("ask-title"), named(entry));
  question([entry.id, entry.question], {
    texts: [...said, problem, text], choices: choices.map(each => [each.label, () => answerWith(entryOf(now.id), each)]),
    input: input === "weight" && !["catch", "tare"].includes(name) ? "load" : input, usual, label: text, store: `ask:${entry.id}`, done: answer => answerWith(entryOf(now.id), { answer: answer || usual }),
  });
}

function question(what, { texts, choices, input, usual, label, store, done }) {
  const sign = JSON.stringify(what);
  if ($("ask").dataset.sign === sign) return;
  $("ask").dataset.sign = sign;
  $("ask").className = input ? "view typing" : "view";
  put($("ask-text"), ...lines(texts));
  put($("choices"), ...choices.map(([text, act]) => button(text, act)));
  put($("field"), ...(input === "text" ? textField(label, usual, store, done) : input ? keyField(input, label, usual, store, done) : []));
}

function textField(label, usual, store, done) {
  const field = make("input");
  field.type = "text";
  field.autocomplete = "off";
  field.value = draft(store).typed || usual;
  field.setAttribute("aria-label", label);
  field.addEventListener("input", () => setDraft(store, { typed: field.value, chosen: {} }));
  const ok = button("OK", () => done(field.value.trim()));
  ok.className = "ok";
  field.addEventListener("keydown", event => { if (event.key === "Enter" && !event.repeat) ok.click(); });
  return [field, ok];
}

function keyField(input, label, usual, store, done) {
  const out = make("output"), keys = make("div"), ok = button("OK", () => finish());
  ok.className = "ok";
  out.setAttribute("aria-label", "What is being typed");
  keys.setAttribute("role", "group");
  keys.setAttribute("aria-label", "Keys");
  const finish = () => {
    const typed = draft(store).typed || usual;
    if (typed) done(typed);
  };
  const show = () => {
    const { typed } = draft(store);
    say(out, typed || "–");
    say(ok, typed || usual ? `OK: ${typed || usual}` : "OK");
  };
  const press = sign => {
    setDraft(store, { typed: edited(draft(store).typed, sign), chosen: {} });
    show();
  };
  buildKeys(keys, { weight: KEYS, load: LOAD_KEYS }[input] || NUMBER_KEYS, press);
  keys.press = press;
  show();
  // units that the keys do not have, as feet
  const letters = button("abc", () => put($("field"), ...textField(label, draft(store).typed || usual, store, done)));
  letters.setAttribute("aria-label", "Type with letters");
  const row = make("div", "", "row");
  row.append(letters, ok);
  return [out, keys, row];
}

// ---- choosing another lot, setting or size for the next catch

const FIELDS = {
  box: { title: "Which box?", options: () => state.boxes.map(each => each.box) },
  lot: { title: "Which lot is in the box?", options: box => box.lots, input: "text" },
  setting: { title: "At which setting is the catch?", options: box => box.settings, input: box => box.settings.length ? "" : /^[\d.]*$/.test(box.catch.setting) ? "number" : "text" },
  turns: { title: box => `How many ${box.catch.counted} is the catch?`, input: "number" },
  towed: { title: box => `How far was the drill towed, ${box.catch.towed_in}?`, input: "number", says: () => state.towing },
  rows: { title: "From how many rows is the catch?", input: "number" },
  fill: { title: "How full is the box, per cent?", input: "number" },
  tare: { title: "What does the empty container weigh, g?", options: () => ["Seed alone"], input: "number" },
  note: { title: "Note for the next catch", input: "text" },
  operator: { title: "Who weighs?", input: "text" },
};

function chooseView({ field }) {
  const box = boxNow(), { title, options, input, says } = FIELDS[field];
  const of = what => typeof what === "function" ? what(box) : what;
  const usual = field === "operator" ? kept(`who:${state.job}`, "") : boxDraft().chosen[field] || "";
  say($("ask-title"), of(title));
  say($("give-up").firstChild, "BACK");
  say($("give-up").lastChild, "change nothing");
  question([field, box.box, usual, options ? options(box) : []], {
    texts: field === "box" || field === "operator" ? [] : [`${box.box}, ${shown().lot}`, ...(says ? [says()] : [])],
    choices: (options ? options(box) : []).map(each => [each, () => chosenNow(field, each)]),
    input: of(input) || "", usual, label: of(title), store: `choose:${field}`, done: text => chosenNow(field, text),
  });
}

function chosenNow(field, text) {
  setDraft(`choose:${field}`, null);
  if (field === "box") keep(`box:${state.job}`, text);
  else if (field === "operator") keep(`who:${state.job}`, text);
  else if (field === "towed") choose({ turns: text || undefined, counted: text ? boxNow().catch.towed_in : undefined });
  else if (field === "turns") choose({ turns: text || undefined, counted: undefined });
  else choose({ [field]: field === "tare" && text === "Seed alone" ? "0" : text || undefined });
  home();
}

// ---- everything else

function moreView() {
  const box = boxNow(), chosen = boxDraft().chosen, who = kept(`who:${state.job}`, "");
  say($("more-title"), `${box.box}, ${shown().lot}`);
  const what = [box, chosen, who, state.problems, state.messages, state.day, state.name, state.next, queue(), silent, elsewhere()];
  makeOnce($("more-text"), what, () => [
    ...waitingPart(), ...lookPart(box), ...openPart(box), ...writePart(box), ...nextPart(box, chosen, who), ...restPart(box),
  ].filter(Boolean));
}

function waitingPart() {
  const others = elsewhere();
  return [
    ...lines(state.problems),
    queue().length ? button(waitingWords(queue()), () => go("waiting")) : null,
    ...lines([others ? `${others === 1 ? "1 entry of another job waits" : `${others} entries of other jobs wait`} in this browser. A job gets its own when it is served again.` : ""]),
  ];
}

function pair(...children) {
  const node = make("div", "", "pair");
  node.append(...children.filter(Boolean));
  return node;
}

function link(text, address) {
  const node = make("a", text, "button");
  node.href = address;
  node.target = "_blank";  // what is typed here stays open beside it
  node.rel = "noopener";
  return node;
}

function lookPart(box) {
  const title = make("h2", "Look at");
  if (silent) return [title, ...lines(["The laptop does not answer, so nothing can be shown now."])];
  const pages = [link("SETTING CARD", "/card"), link("DECISION CARD", "/decision"), link("SEASON’S RECORD", "/record")];
  return [title, pair(caught(box), ...pages)];
}

function caught(box) {
  return link("LOG AND PICTURE", `/log?box=${encodeURIComponent(box.box)}`);
}

function openPart(box) {
  return box.open.flatMap(({ text, lines: rows }, k) => [
    k ? null : make("h2", "A lock waits for this"),
    ...lines([text]),
    pair(
      button("KEEP", () => begin("confirm", { box: box.box, lines: rows, text }), "it was weighed so"),
      button("LEAVE OUT", () => begin("leave_out", { box: box.box, lines: rows, text }), "it is not used"),
    ),
  ]);
}

function writePart(box) {
  const { last } = box;
  const values = last && { file: "trials", ...(last.entry ? { entry: last.entry } : { line: String(last.line), text: last.text }) };
  return [
    make("h2", "Write down"),
    pair(
      button("PLANTED", () => begin("plant", { box: box.box }), `a field with ${box.box}`),
      button("FIELD CHECK", () => begin("check", { box: box.box }), `of ${box.box}`),
    ),
    last ? button("OOPS: TAKE BACK THE LAST CATCH", () => begin("undo", values, { of: last.text }), `line ${last.line}: ${last.text}`) : null,
  ];
}

function nextPart(box, chosen, who) {
  const now = shown();
  const other = (field, text, small) => button(text, () => go("choose", { field }), small);
  const either = (field, text) => button(text, () => toggle(field), chosen[field] ? "yes: tap to change" : "no: tap to change");
  return [
    make("h2", "The next catch"),
    pair(
      other("lot", "OTHER LOT", now.lot), other("setting", "OTHER SETTING", now.setting || "asked when you save"),
      other("turns", "OTHER LENGTH", `${now.turns} ${now.counted}`), other("rows", "OTHER ROWS", now.rows),
      other("towed", "TOWED", "a distance, not turns"), other("tare", "CONTAINER", weighed()),
      other("fill", "HOW FULL", chosen.fill ? `${chosen.fill} %` : "not looked at"),
      either("charged", "NOT CHARGED"), either("use", "DO NOT USE IT"),
      other("note", "NOTE", chosen.note || "none"), other("operator", "WHO WEIGHS", who || "nobody named"),
    ),
    Object.values(chosen).some(Boolean) ? button("AS ADVISED AGAIN", asAdvised) : null,
    state.boxes.length > 1 ? button("OTHER BOX", () => go("choose", { field: "box" })) : null,
  ];
}

function toggle(field) {
  choose({ [field]: boxDraft().chosen[field] ? undefined : "no" });
  render();
}

function asAdvised() {
  setDraft(`box:${boxNow().box}`, { ...boxDraft(), chosen: {} });
  render();
}

function restPart(box) {
  return [
    make("h2", `${state.name}, ${state.day}`),
    ...lines([state.next && state.next.sentence, ...box.more, ...state.messages, state.cautions], "small"),
  ];
}

function waitingView() {
  const all = queue();
  say($("more-title"), all.length ? "What waits" : "Nothing waits");
  makeOnce($("more-text"), ["waiting", all, silent], () => all.flatMap(each => [
    make("h2", named(each)),
    ...lines(each.refused || [each.question ? each.question.text : unsent(each)]),
    each.question ? button("ANSWER", () => go("ask", { id: each.id })) : null,
    each.refused ? button("TRY AGAIN", () => tryAgain(each.id)) : null,
    each.question || each.refused || !each.tried ? button("GIVE UP", () => giveUp(each), "save nothing") : null,
    !each.question && !each.refused && each.tried && each.kind in FILES ? button("OOPS", () => takeBack(each), "take it back once it is sent") : null,
  ].filter(Boolean)));
}

// ---- taps, keys of a keyboard, and the start

function pressed(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || event.target.tagName === "INPUT" || !state) return;
  const keys = view().view === "keypad" ? $("keys") : $("ask").hidden ? null : $("field").querySelector(".keys");
  if (!keys) return;
  const sign = { ",": ".", Backspace: "⌫", o: "oz", O: "oz" }[event.key] || event.key;
  if (sign === "Enter") {
    if (document.activeElement.tagName === "BUTTON") return;
    event.preventDefault();
    if (!event.repeat) (keys.id ? $("save") : $("field").querySelector(".ok")).click();
  } else if ([...keys.children].some(each => each.dataset.sign === sign)) {
    event.preventDefault();
    if (keys.id) type(sign); else keys.press(sign);
  }
}

function backOrGiveUp() {
  const now = view(), entry = now.view === "ask" && entryOf(now.id);
  if (entry) giveUp(entry, ["Nothing was saved."]); else history.back();
}

function nextCatch() {
  const reply = replies.get(view().id);
  const next = reply && !entryOf(view().id) ? nextBox(boxAbout(reply)) : "";
  if (next) keep(`box:${state.job}`, next);
  home();
}

function start() {
  buildKeys($("keys"), KEYS, type);
  onTap($("save"), saveCatch);
  onTap($("to-more"), () => go("more"));
  onTap($("answer-more"), () => go("more"));
  onTap($("more-back"), home);
  onTap($("next"), nextCatch);
  onTap($("oops"), () => takeBack(entryOf(view().id) || replies.get(view().id).entry));
  onTap($("give-up"), backOrGiveUp);
  addEventListener("popstate", render);
  addEventListener("resize", render);
  addEventListener("storage", render);
  addEventListener("online", look);
  addEventListener("pagehide", stepDown);
  document.addEventListener("visibilitychange", look);
  document.addEventListener("keydown", pressed);
  render();
  look();
}

start();
