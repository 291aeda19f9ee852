// The desk: words that follow the sound and are typed in place; every change is kept on the server within two seconds.
import { CANNOT_PLAY, Player, clock, cut, lastBefore, parse } from "./player.js";
import { Conflicts } from "./conflicts.js";
import { Elsewhere } from "./elsewhere.js";
import { putToSound } from "./fitting.js";
import { Keys, speakerKeys } from "./keys.js";
import { Lines, moved, places } from "./lines.js";

const $ = (id) => document.getElementById(id);
const place = $("player");
const root = $("lines");
const duration = Number(place.dataset.duration);
const playable = parse(place.dataset.playable);
const player = new Player();
const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
const start = JSON.parse(root.dataset.start);
const STATES = JSON.parse(root.dataset.states); // as every page says them

const PAUSE_MS = 700; // after the last key
const LONGEST_MS = 1500; // after the first key that is not kept
const AGAIN_MS = 2000;
const SETTLED_MS = 4000; // without a key in a line: what was typed there is looked at
const SPEEDS = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.15, 1.3, 1.5, 1.75, 2];
const ENDS = /[.?!…]["'”’)\]]*$/;

// --- drawing ---------------------------------------------------------------------------------------------------------
function make(tag, className, text = "") {
  const el = document.createElement(tag);
  if (className) el.className = className;
  if (text) el.textContent = text;
  return el;
}

function draw(l) {
  const el = make("div", `turn${l.closed ? " shut" : ""}${l.speaker ? "" : " nobody"}${chosen.has(l.key) ? " chosen" : ""}`);
  el.line = l;
  if (l.closed) {
    el.append(make("p", "", `${clock(l.start_ms)} – ${clock(l.end_ms)}: something is closed here. It can be corrected when it is open again.`));
    return el;
  }
  const head = make("p", "speaker");
  const time = make("button", "plain time", clock(l.start_ms));
  time.type = "button";
  time.setAttribute("aria-label", `Play from ${clock(l.start_ms)}`);
  time.addEventListener("click", (event) => (event.shiftKey ? choose(l) : goTo(l.start_ms, true)));
  head.append(time, make("span", "who", l.speaker || "Speaker not known yet"), make("span", "state", facts(l)));
  const said = make("p", "said", l.text);
  said.contentEditable = "plaintext-only";
  said.setAttribute("role", "textbox");
  said.setAttribute("aria-multiline", "false");
  said.setAttribute("aria-label", `${l.speaker || "Speaker not known yet"}, ${clock(l.start_ms)}`);
  said.spellcheck = false;
  el.append(head, said);
  if (l.trouble) { const p = make("p", "trouble", l.trouble); p.setAttribute("role", "alert"); el.append(p); }
  if (l.theirs) el.append(both(l));
  return el;
}

function facts(l) {
  return [STATES[l.state] + (l.state_by && l.state !== "machine" ? `, ${l.state_by}` : ""), l.verbatim ? "verbatim" : "", l.overlap ? "spoken at once" : ""].filter(Boolean).join(" · ");
}

function both(l) {
  const box = make("div", "refusal");
  box.setAttribute("role", "alert");
  box.append(make("p", "", "Somebody changed this passage while you typed. Theirs stands above; this is yours:"), make("p", "said", l.theirs));
  const keep = make("button", "", "Leave theirs");
  const mine = make("button", "", "Put mine in its place");
  keep.type = mine.type = "button";
  keep.addEventListener("click", () => { l.theirs = ""; lines.redraw(l); tell(); });
  mine.addEventListener("click", () => { const text = l.theirs; l.theirs = ""; ask({ act: "type", keys: [l.key], text }); });
  const p = make("p", "buttons");
  p.append(keep, mine);
  box.append(p);
  return box;
}

const chosen = new Set();
const lines = new Lines(root, draw);
lines.add(start.lines);

// --- keeping ---------------------------------------------------------------------------------------------------------
const mark = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
let since = 0; // when the first change that is not kept yet was made
let timer = 0;
let busy = Promise.resolve();
let lost = false;

const dirty = () => lines.all.filter((l) => l.dirty && !l.trouble);

function tell(words = "") {
  const open = dirty().length;
  $("kept").classList.toggle("lost", lost);
  $("kept").textContent = words || (lost ? "Not kept yet: no answer from the archive. Leave this page open; it goes on by itself." : open ? "Keeping …" : "Everything is kept.");
}

function later() {
  since ||= performance.now();
  clearTimeout(timer);
  timer = setTimeout(keep, Math.max(0, Math.min(PAUSE_MS, since + LONGEST_MS - performance.now())));
  if (!lost) tell();
}

function keep() {
  clearTimeout(timer);
  since = 0;
  busy = busy.then(async () => {
    for (const l of dirty()) {
      const text = l.text;
      if (!text.trim() && l.el?.contains(document.activeElement)) continue; // emptied, and perhaps typed anew
      const answer = await send({ act: "type", keys: [l.key], text });
      if (answer.refused) await refused(l, text, answer);
      else if (!answer.lines.length) took(answer);
      else {
        if (l.text === text) l.dirty = false;
        const [now] = answer.lines;
        const normal = now.words.map(([word]) => word).join(" ");
        const quiet = !l.dirty && !l.el?.contains(document.activeElement);
        lines.renew(l, now, quiet ? normal : l.text);
        if (quiet && l.el && l.el.querySelector(".said").textContent !== normal) lines.redraw(l);
        else if (l.el) l.el.querySelector(".state").textContent = facts(l);
        show(answer.desk);
      }
    }
    tell();
  });
  return busy;
}

async function refused(l, text, answer) {
  if (answer.status !== 409) {
    l.trouble = `${answer.refused} What you typed is still here.`;
    lines.redraw(l);
    return;
  }
  const response = await fetch(`${root.dataset.lines}?from=${Math.floor(l.start_ms)}&to=${Math.ceil(l.end_ms)}`);
  const now = response.ok ? (await response.json()).lines : [];
  const keys = now.map((n) => n.key);
  const here = lines.all.filter((n) => keys.includes(n.key)).map((n) => n.key);
  const [first] = lines.replace([l.key, ...here.filter((k) => k !== l.key)], now, 0);
  if (first) { first.theirs = text; lines.redraw(first); }
}

async function send(body) {
  const whole = JSON.stringify({ ...body, mark: mark() }); // the same mark at every try: what arrives twice counts once
  for (;;) {
    try {
      const response = await fetch(root.dataset.change, { method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": root.dataset.token }, body: whole });
      if (response.status < 500) {
        lost = false;
        return response.ok ? await response.json() : { refused: await response.text(), status: response.status };
      }
    } catch { /* no network, or the archive is being started again: asked again below */ }
    lost = true;
    tell();
    await new Promise((done) => setTimeout(done, AGAIN_MS));
  }
}

/** Anything but typing: what was typed is kept first. */
async function ask(body) {
  await keep();
  const keys = body.keys;
  busy = busy.then(async () => {
    const answer = await send(body);
    if (answer.refused) { tell(answer.refused); return []; }
    tell();
    return took(answer, keys);
  });
  return busy;
}

function took(answer) {
  const had = document.activeElement?.closest?.(".turn")?.line;
  const stood = caret();
  const gone = [...answer.gone, ...answer.lines.map((l) => l.key)];
  const was = lines.all.filter((l) => gone.includes(l.key));
  const made = lines.replace(gone, answer.lines, answer.after);
  carry(was, made);
  if (gone.includes(had?.key) && made.length) put(made[0], ...(made.length === 1 ? stood : [0]));
  show(answer.desk);
  return made;
}

/** What was typed while the answer was on its way goes with its line; where lines were parted or joined, beside the words for somebody to choose. */
function carry(was, made) {
  const typed = was.filter((l) => l.dirty);
  const [first] = made;
  if (!typed.length || !first) return;
  const text = typed.map((l) => l.text).join(" ");
  if (was.length > 1 || made.length > 1) first.theirs = text;
  else {
    Object.assign(first, { spots: moved(first.text, text, first.spots), before: was[0].before, text, dirty: true });
    later();
  }
  lines.redraw(first);
}

function show(desk) {
  const { progress } = desk;
  $("states").replaceChildren(...progress.states.filter(([, n]) => n).map(([state, n]) => make("li", "", `${STATES[state]}: ${n} of ${progress.lines} lines`)));
  $("unassigned").textContent = progress.unassigned ? `In ${progress.unassigned} of them nobody is said to speak: they count as everybody.` : "Every line has its speaker.";
  $("others").textContent = desk.others.length ? `Also at this desk: ${desk.others.join(", ")}.` : "";
  $("undo").disabled = !desk.may_undo;
  $("again").disabled = !desk.may_redo;
}

addEventListener("pagehide", () => {
  for (const l of dirty()) {
    if (!l.text.trim()) continue;
    fetch(root.dataset.change, { method: "POST", keepalive: true, headers: { "Content-Type": "application/json", "X-CSRFToken": root.dataset.token }, body: JSON.stringify({ act: "type", keys: [l.key], text: l.text, mark: mark() }) });
  }
});
addEventListener("beforeunload", (event) => { if (lost && dirty().length) event.preventDefault(); });
$("finish").addEventListener("submit", async (event) => {
  event.preventDefault();
  await keep();
  await busy; // what else was asked for, a state or a speaker, is on its way
  event.target.submit();
});

// --- typing ----------------------------------------------------------------------------------------------------------
function here() { return document.activeElement?.closest?.(".turn")?.line ?? null; }

let last = null; // the line that was typed in last: buttons beside the words mean it
function current() { return here() ?? (last && lines.all.includes(last) ? last : null); }
function meant() {
  const many = lines.all.filter((l) => chosen.has(l.key));
  return many.length ? many : [current()].filter(Boolean);
}

root.addEventListener("focusin", () => { last = here() ?? last; });
root.addEventListener("focusout", (event) => { const l = event.target.closest(".turn")?.line; if (l?.dirty) keep(); if (l) settled(l); });
root.addEventListener("input", (event) => {
  const l = event.target.closest(".turn").line;
  const text = event.target.textContent.replace(/\s*\n\s*/g, " ");
  l.spots = moved(l.text, text, l.spots);
  l.before ??= l.text;
  l.text = text;
  l.dirty = true;
  clearTimeout(l.still);
  l.still = setTimeout(() => settled(l), SETTLED_MS);
  if (l.trouble) { l.trouble = ""; l.el.querySelector(".trouble")?.remove(); }
  later();
});

const elsewhere = new Elsewhere($("same"), root.dataset.token, keep);
/** Somebody is done with a line: where a name was put right in it, the same is offered elsewhere. */
function settled(l) {
  clearTimeout(l.still);
  const before = l.before;
  l.before = undefined;
  if (before !== undefined && before !== l.text && !l.theirs && !l.trouble) elsewhere.look(before, l.text);
}

root.addEventListener("keydown", (event) => {
  const l = event.target.closest(".said") ? here() : null;
  if (!l) return;
  const [from, to] = caret();
  if (event.key === "Enter") { event.preventDefault(); part(); }
  else if (event.key === "Backspace" && from === 0 && to === 0) { event.preventDefault(); const n = lines.all.indexOf(l); if (n > 0) join(lines.all[n - 1], l); }
  else if (event.key === "ArrowUp" || event.key === "ArrowDown") step(event, l, event.key === "ArrowUp" ? -1 : 1);
});

/** From the first row of a line up, or from the last one down, into the next line. */
function step(event, l, by) {
  const range = getSelection().rangeCount ? getSelection().getRangeAt(0) : null;
  if (!range || event.shiftKey) return;
  const box = l.el.querySelector(".said").getBoundingClientRect();
  const at = range.getClientRects()[0] ?? box;
  const row = Number.parseFloat(getComputedStyle(l.el.querySelector(".said")).lineHeight) || 24;
  if (by < 0 ? at.top - box.top > row * 0.8 : box.bottom - at.bottom > row * 0.8) return;
  const other = beside(l, by);
  if (!other) return;
  event.preventDefault();
  put(other, by < 0 ? other.text.length : 0);
}

/** The nearest line before (-1) or behind (1) a line that is open. */
function beside(l, by) {
  let n = lines.all.indexOf(l) + by;
  while (lines.all[n]?.closed) n += by;
  return lines.all[n] ?? null;
}

function turn(by) {
  const other = current() ? beside(current(), by) : lines.all.find((l) => !l.closed);
  if (other) put(other, 0);
}

function caret() {
  const chosenText = getSelection();
  if (!chosenText.rangeCount) return [0, 0];
  const range = chosenText.getRangeAt(0);
  return [range.startContainer.nodeType === Node.TEXT_NODE ? range.startOffset : 0, range.endContainer.nodeType === Node.TEXT_NODE ? range.endOffset : 0];
}

function put(l, from, to = from) {
  const said = lines.show(l)?.querySelector(".said");
  if (!said) return;
  said.focus({ preventScroll: true });
  const node = said.firstChild ?? said.appendChild(document.createTextNode(""));
  getSelection().setBaseAndExtent(node, Math.min(from, node.length), node, Math.min(to, node.length));
  bringIntoView(said);
}

/** The number of the word in which, or before which, the cursor stands. */
function wordAt(l, offset) { return l.spots.filter((spot) => spot && spot[0] < offset).length; }

async function part() {
  const l = current();
  if (!l) return;
  const [from] = caret();
  await keep();
  l.spots = places(l.text, l.words);
  const made = await ask({ act: "part", keys: [l.key], at: wordAt(l, from) });
  if (made.length > 1) put(made[1], 0);
}

async function join(first, second) {
  if (!first || !second) return;
  const at = first.text.length;
  const made = await ask({ act: "join", keys: [first.key, second.key] });
  if (made.length) put(made[0], at);
}

function insert(text) {
  const l = current();
  if (!l) return;
  if (here() !== l) put(l, l.text.length);
  const [from, to] = caret();
  const before = from > 0 && l.text[from - 1] !== " " ? " " : "";
  const after = to < l.text.length && l.text[to] !== " " ? " " : "";
  document.execCommand("insertText", false, before + text + after);
}

function unsure() {
  const l = here();
  if (!l) return;
  const [from] = caret();
  const spot = l.spots.find((s) => s && s[0] <= from && from <= s[1]);
  if (!spot || l.text[spot[0]] === "[") return;
  const word = l.text.slice(...spot);
  const [, bare, signs] = /^(.*?)([.,;:!?…]*)$/.exec(word);
  put(l, ...spot);
  document.execCommand("insertText", false, `[${bare}?]${signs}`);
}

function choose(l) {
  const from = lines.all.indexOf(current() ?? l);
  const to = lines.all.indexOf(l);
  chosen.clear();
  for (const other of lines.all.slice(Math.min(from, to), Math.max(from, to) + 1)) if (!other.closed) chosen.add(other.key);
  for (const other of lines.all) other.el?.classList.toggle("chosen", chosen.has(other.key));
  $("which").textContent = `${chosen.size} lines are chosen. Escape lets them go.`;
}

/** One line more below those that are chosen. */
function more() {
  const l = current();
  if (!l) return;
  const last = lines.all.findLastIndex((other) => chosen.has(other.key));
  let n = (last < 0 ? lines.all.indexOf(l) : last) + 1;
  while (lines.all[n]?.closed) n += 1;
  if (lines.all[n]) choose(lines.all[n]);
}

function letGo() {
  chosen.clear();
  for (const other of lines.all) other.el?.classList.remove("chosen");
  $("which").textContent = "Put the cursor into a line. Shift and a click on another line’s time takes all between.";
}

async function toMeant(body) {
  const some = meant();
  if (!some.length) { tell("Put the cursor into a line first."); return; }
  await keep();
  const made = await ask({ ...body, keys: some.map((l) => l.key) });
  if (made.length) letGo();
}

// --- two wordings, and times from the sound ----------------------------------------------------------------------------
const conflicts = new Conflicts($("conflicts"), { ask, go: goToWords });

function goToWords({ start_ms, end_ms }) {
  goTo(start_ms - 1000, true);
  const middle = ([, from, to]) => (from + to) / 2;
  const l = lines.all.find((n) => !n.closed && n.words.some((w) => middle(w) >= start_ms && middle(w) < end_ms)) ?? lines.all.find((n) => !n.closed && n.end_ms > start_ms);
  if (!l) return;
  const spots = l.spots.filter((spot, n) => spot && middle(l.words[n]) >= start_ms && middle(l.words[n]) < end_ms);
  if (spots.length) put(l, spots[0][0], spots.at(-1)[1]);
  else put(l, l.text.length);
}

const fit = (some) => putToSound(some, { place: $("fit").dataset.fit, list: root.dataset.lines, lines, keep, send, tell });

// --- the sound -------------------------------------------------------------------------------------------------------
let loop = null;
let starts = [];
function follow() {
  const now = player.now;
  $("needle").setAttribute("x1", (now * 1200) / duration);
  $("needle").setAttribute("x2", (now * 1200) / duration);
  $("now").textContent = clock(now);
  if (loop && player.playing && (now >= loop[1] || now < loop[0] - 500)) { player.seek(loop[0]); return; }
  if (!player.playing) { lines.lit(null); return; }
  const l = lines.all[lastBefore(starts, now + 40)];
  if (!l || l.closed) { lines.lit(null); return; }
  const n = lastBefore(l.words.map((w) => w[1]), now + 40);
  if (!l.el && performance.now() - scrolledAt > 4000 && !here()) lines.show(l)?.scrollIntoView({ block: "center", behavior: "instant" });
  lines.lit(n >= 0 ? lines.range(l, n) : null);
  if (l.el && l !== followed && performance.now() - scrolledAt > 4000 && (!here() || here() === followed)) { bringIntoView(l.el); followed = l; }
}
let followed = null;
let scrolledAt = -Infinity;
for (const kind of ["wheel", "touchmove"]) addEventListener(kind, () => { scrolledAt = performance.now(); }, { passive: true });

function bringIntoView(el) {
  const box = el.getBoundingClientRect();
  const top = getComputedStyle(place).position === "sticky" ? place.getBoundingClientRect().bottom : 0;
  if (box.top < top || box.bottom > innerHeight - 40) scrollBy({ top: box.top - top - 80, behavior: still ? "auto" : "smooth" });
}

function goTo(ms, andPlay) {
  player.seek(Math.max(0, ms));
  if (andPlay) player.play();
}

function pace(by) {
  const n = Math.min(SPEEDS.length - 1, Math.max(0, SPEEDS.indexOf(player.rate) + by));
  player.rate = SPEEDS[n];
  $("pace").textContent = player.rate === 1 ? "normal speed" : `${player.rate} × speed`;
}

function sentence() {
  if (loop) { loop = null; $("loop").setAttribute("aria-pressed", "false"); return; }
  const l = here() ?? lines.all[lastBefore(starts, player.now + 40)];
  if (!l || l.closed || !l.words.length) return;
  let n = here() ? Math.max(0, wordAt(l, caret()[0]) - 1) : Math.max(0, lastBefore(l.words.map((w) => w[1]), player.now + 40));
  let first = n;
  while (first > 0 && !ENDS.test(l.words[first - 1][0])) first -= 1;
  while (n < l.words.length - 1 && !ENDS.test(l.words[n][0])) n += 1;
  loop = [Math.max(0, l.words[first][1] - 150), l.words[n][2] + 250];
  $("loop").setAttribute("aria-pressed", "true");
  goTo(loop[0], true);
}

function doubt() {
  const l = current();
  const at = l && here() ? [lines.all.indexOf(l), wordAt(l, caret()[1])] : [l ? lines.all.indexOf(l) + 1 : 0, 0];
  for (let n = at[0]; n < lines.all.length; n += 1) {
    const other = lines.all[n];
    const found = other.words.findIndex((w, k) => (n > at[0] || k >= at[1]) && w[3].includes("u") && other.spots[k]);
    if (found < 0) continue;
    put(other, ...other.spots[found]);
    goTo(other.words[found][1] - 1000);
    return;
  }
  tell("No unsure word is left after this place.");
}

// --- what buttons and keys do ----------------------------------------------------------------------------------------
const DOES = {
  play: ["play and pause", "Alt+KeyP"],
  back: ["back three seconds", "Alt+KeyB"],
  slower: ["slower", "Alt+Comma"],
  faster: ["faster", "Alt+Period"],
  loop: ["repeat this sentence", "Alt+KeyL"],
  doubt: ["next unsure word", "Alt+KeyU"],
  next: ["to the next line", "Alt+ArrowDown"],
  before: ["to the line before", "Alt+ArrowUp"],
  listen: ["play from this word", "Alt+KeyW"],
  corrected: ["this line is corrected", "Alt+KeyK"],
  checked: ["checked by a second person", "Alt+KeyC"],
  verbatim: ["verbatim, or not", "Alt+KeyV"],
  overlap: ["spoken at once, or not", "Alt+KeyO"],
  inaudible: ["inaudible", "Alt+KeyI"],
  unsure: ["unsure of this word", "Alt+KeyQ"],
  join: ["join with the next line", "Alt+KeyJ"],
  more: ["take the next line too", "Alt+Shift+ArrowDown"],
  same: ["the same elsewhere", "Alt+KeyS"],
  conflict: ["next place with two wordings", "Alt+KeyN"],
  ours: ["keep ours", "Alt+KeyY"],
  newer: ["take the newer", "Alt+KeyT"],
  fit: ["put these words to the sound", "Alt+KeyG"],
  undo: ["undo", "Ctrl+KeyZ"],
  again: ["do again", "Ctrl+Shift+KeyZ"],
  ...speakerKeys([...document.querySelectorAll("[data-speaker]")].map((b) => [b.dataset.speaker, b.dataset.speaker ? `${b.dataset.speaker} speaks here` : "speaker not known"]), "Alt+"),
};

const ACTS = {
  play: () => { $("trouble").textContent = ""; player.toggle(); },
  back: () => goTo(player.now - 3000),
  slower: () => pace(-1),
  faster: () => pace(1),
  loop: sentence,
  doubt,
  next: () => turn(1),
  before: () => turn(-1),
  listen: () => { const l = here(); if (l) goTo((l.words[Math.max(0, wordAt(l, caret()[0] + 1) - 1)] ?? [0, l.start_ms])[1] - 100, true); },
  corrected: () => toMeant({ act: "state", state: "corrected" }),
  checked: () => toMeant({ act: "state", state: "checked" }),
  verbatim: () => toMeant({ act: "verbatim", on: !meant().every((l) => l.verbatim) }),
  overlap: () => toMeant({ act: "overlap", on: !meant().every((l) => l.overlap) }),
  inaudible: () => insert("[inaudible]"),
  unsure,
  part,
  join: () => { const l = current(); if (l) join(l, lines.all[lines.all.indexOf(l) + 1]); },
  more,
  same: () => elsewhere.open(),
  conflict: () => conflicts.next(),
  ours: () => conflicts.decide("ours"),
  newer: () => conflicts.decide("newer"),
  fit: () => { const some = meant(); if (some.length) fit(some); else tell("Put the cursor into a line first."); },
  fitAll: () => fit([]),
  undo: () => ask({ act: "undo" }),
  again: () => ask({ act: "again" }),
};
function act(name) {
  if (name.startsWith("speaker:")) toMeant({ act: "speaker", speaker: name.slice(8) });
  else ACTS[name]();
}
const keys = new Keys(DOES, act);
keys.show($("keys"), $("keys-back"));

for (const button of document.querySelectorAll("[data-does]")) button.addEventListener("click", () => act(button.dataset.does));
for (const button of document.querySelectorAll("[data-speaker]")) button.addEventListener("click", () => act(`speaker:${button.dataset.speaker}`));
for (const button of document.querySelectorAll("[data-state]")) button.addEventListener("click", () => toMeant({ act: "state", state: button.dataset.state }));
for (const button of document.querySelectorAll("[data-put]")) button.addEventListener("click", () => insert(button.dataset.put));
for (const button of document.querySelectorAll(".side button, .controls button")) button.addEventListener("mousedown", (event) => event.preventDefault()); // the cursor stays in its line
addEventListener("keydown", (event) => { if (event.key === "Escape") letGo(); });

$("toggle").addEventListener("click", () => act("play"));
player.addEventListener("time", follow);
player.addEventListener("state", () => {
  $("toggle").setAttribute("aria-pressed", String(player.playing));
  $("toggle").querySelector(".say").textContent = player.playing ? "Pause" : "Play";
  follow();
});
player.addEventListener("trouble", () => { $("trouble").textContent = CANNOT_PLAY; });
place.querySelector(".wave").addEventListener("click", (event) => {
  const box = event.currentTarget.getBoundingClientRect();
  goTo(((event.clientX - box.left) / box.width) * duration, true);
});

/** The player lies over the words: everything that is scrolled to stops below it. */
function measure() {
  const height = getComputedStyle(place).position === "sticky" ? place.offsetHeight : 0;
  document.documentElement.style.setProperty("--player", `${height}px`);
}
new ResizeObserver(measure).observe(place);

function ready() {
  starts = lines.all.map((l) => l.start_ms);
  if (!playable.length) { $("toggle").disabled = true; return; }
  if (!player.playing) player.use(place.dataset.sound, cut(playable, starts), Math.max(player.now, Number(place.dataset.from)));
}
const added = lines.replace.bind(lines);
lines.replace = (...args) => { const made = added(...args); starts = lines.all.map((l) => l.start_ms); return made; };

async function rest() {
  while (lines.all.length < start.count) {
    const response = await fetch(`${root.dataset.lines}?first=${lines.all.length}`);
    if (!response.ok) { tell("Not all lines could be loaded. Load the page again."); return; }
    const more = (await response.json()).lines;
    if (!more.length) break;
    lines.add(more);
  }
  ready();
  document.documentElement.dataset.ready = "yes";
}
show(start.desk);
if (start.desk.conflicts) conflicts.load(true);
ready();
rest();
