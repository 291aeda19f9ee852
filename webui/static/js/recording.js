// One recording: the player, the words that follow the sound, and choosing words.
import { CANNOT_PLAY, Player, clock, cut, parse } from "./player.js";
import { Choosing } from "./choosing.js";
import { timed } from "./fragment.js";
import { Keys } from "./keys.js";
import { Spoken, lookFor } from "./spoken.js";
import { Speakers } from "./voices.js";

const place = document.getElementById("player");
const words = document.getElementById("words");
const spoken = words ? new Spoken(words) : null;
const playable = parse(place.dataset.playable);
const duration = Number(place.dataset.duration);
const player = new Player();
const $ = (id) => document.getElementById(id);
const AHEAD_MS = 20_000; // words are asked for so long before they are said
const still = matchMedia("(prefers-reduced-motion: reduce)").matches;

let lit = null;
let followed = null;
function follow() {
  const now = player.now;
  $("needle").setAttribute("x1", (now * 1200) / duration);
  $("needle").setAttribute("x2", (now * 1200) / duration);
  if ($("now")) $("now").textContent = clock(now);
  if ($("position") && document.activeElement !== $("position")) $("position").value = Math.floor(now / 1000);
  const word = player.playing && spoken ? spoken.at(now + 40) : null;
  if (word) spoken.at(now + AHEAD_MS);
  if (word === lit) return;
  lit?.classList.remove("now");
  word?.classList.add("now");
  if (word && followed !== word.parentElement && !busy()) {
    followed = word.parentElement;
    bringIntoView(word);
  }
  lit = word;
}

/** Somebody chooses, or has just scrolled: the page stays where it is. */
const LEFT_ALONE_MS = 4000;
const SCROLLING = new Set(["PageUp", "PageDown", "Home", "End", "ArrowUp", "ArrowDown"]);
let picked = [];
let scrolledAt = -Infinity;
function busy() { return picked.length > 0 || performance.now() - scrolledAt < LEFT_ALONE_MS; }
function scrolled() { scrolledAt = performance.now(); }
for (const kind of ["wheel", "touchmove"]) addEventListener(kind, scrolled, { passive: true });
addEventListener("keydown", (event) => { if (SCROLLING.has(event.key)) scrolled(); });

/** The sound of a clicked word that became part of a choice ends with the last word of the choice. */
let clicked = null;
let endsAt = Infinity;
function chosen(now) {
  picked = now;
  const last = picked.at(-1);
  endsAt = clicked !== null && last ? Number(last.dataset.e ?? spoken.times[spoken.places.get(last) + 1] ?? duration) : Infinity;
  halt();
}
function halt() {
  if (!player.playing || player.now < endsAt) return;
  player.pause();
  unclick();
}
function unclick() { clicked = null; endsAt = Infinity; }

async function bringIntoView(word) {
  if (!word.isConnected) await spoken.show(spoken.partOf(word));
  const box = word.getBoundingClientRect();
  const top = getComputedStyle(place).position === "sticky" ? place.getBoundingClientRect().bottom : 0;
  if (box.top < top || box.bottom > innerHeight - 40) {
    scrollBy({ top: box.top - top - 80, behavior: still ? "auto" : "smooth" });
  }
}

/** The player lies over the words: everything that is scrolled to stops below it. */
function measure() {
  const height = getComputedStyle(place).position === "sticky" ? place.offsetHeight : 0;
  document.documentElement.style.setProperty("--player", `${height}px`);
}
function arrive() {
  measure();
  const here = document.getElementById("here");
  const asked = timed(location.hash, duration / 1000);
  if (asked && playable.length) goTo(asked[0] * 1000);
  if (!here || (!asked && location.hash !== "#here")) return;
  here.scrollIntoView({ block: "start", behavior: "instant" });
  const word = spoken?.at(Number(place.dataset.from));
  if (word && here.contains(word)) word.scrollIntoView({ block: "nearest", behavior: "instant" });
}

function goTo(ms, andPlay) {
  unclick();
  player.seek(ms);
  if (andPlay) player.play();
}

if (playable.length) {
  const breaks = place.dataset.breaks.split(" ").filter(Boolean).map(Number);
  player.use(place.dataset.sound, cut(playable, breaks), Number(place.dataset.from) || playable[0][0]);
  for (const hidden of document.querySelectorAll("#player [hidden], .keys[hidden]")) hidden.hidden = false;
  player.addEventListener("time", follow);
  player.addEventListener("time", halt);
  player.addEventListener("state", () => {
    $("toggle").setAttribute("aria-pressed", String(player.playing));
    $("toggle").querySelector(".say").textContent = player.playing ? "Pause" : "Play";
    follow();
  });
  player.addEventListener("trouble", () => { $("trouble").textContent = CANNOT_PLAY; });
  follow();
  $("toggle").addEventListener("click", () => { $("trouble").textContent = ""; unclick(); player.toggle(); });
  $("back").addEventListener("click", () => goTo(player.now - 5000));
  $("on").addEventListener("click", () => goTo(player.now + 5000));
  $("position").addEventListener("change", (event) => goTo(Number(event.target.value) * 1000));
  place.querySelector(".wave").addEventListener("click", (event) => {
    const box = event.currentTarget.getBoundingClientRect();
    goTo(((event.clientX - box.left) / box.width) * duration, true);
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-at]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    goTo(Number(link.dataset.at), true);
    spoken?.shown(Number(link.dataset.at) + 40).then((word) => word && bringIntoView(word), () => {});
  });
}

function playFrom(ms) {
  if (!playable.length) return;
  goTo(ms, true);
  clicked = ms;
  scrolled(); // it may be the first word of a choice
}
for (const line of document.querySelectorAll(".with-js")) line.hidden = false;
const choosing = spoken ? new Choosing(spoken, playFrom, chosen) : null;
if ($("look")) {
  lookFor($("look"), spoken, async (span) => {
    scrolled(); // somebody reads here now, whatever plays
    await spoken.show(spoken.partOf(span));
    choosing.mark(span);
    for (let look = 0; look < 5; look += 1) { // parts that come near while it scrolls have other heights than their room
      bringIntoView(span);
      await new Promise((done) => setTimeout(done, 300));
    }
  });
}

/** What a digit is for: what is chosen, else what plays, else where the mark stands. */
function spokenHere() {
  const some = picked.length ? picked : [player.playing && lit ? lit : choosing?.caret];
  return [...new Set(some.filter(Boolean).map((span) => Number(span.closest("[data-u]").dataset.u)))];
}
function assigned(utterance, code, label) {
  utterance.classList.toggle("nobody", !code);
  const told = document.createElement("span");
  told.textContent = label;
  const line = utterance.querySelector(".speaker");
  line.replaceChildren(line.querySelector(".time"), told);
}

/** Which of these keys do something where the cursor is: on a button Space presses it, among the words arrows go from word to word. */
const ELSEWHERE = "summary, button, a";
const speakers = spoken && $("speakers") ? new Speakers($("speakers"), spoken, spokenHere, assigned) : null;
const DOES = {
  ...(playable.length ? {
    play: ["play and pause", "Space", ELSEWHERE],
    back: ["back five seconds", "ArrowLeft", `${ELSEWHERE}, #words`],
    on: ["on five seconds", "ArrowRight", `${ELSEWHERE}, #words`],
  } : {}),
  ...(speakers ? speakers.does : {}),
};
const ACTS = {
  play: () => { unclick(); player.toggle(); },
  back: () => goTo(player.now - 5000),
  on: () => goTo(player.now + 5000),
};
const keys = new Keys(DOES, (name, event) => (ACTS[name] ? ACTS[name]() : !event.repeat && speakers.press(name)), "keys of recordings");
if ($("keys")) keys.show($("keys"), $("keys-back"));
if ($("speakers")) for (const hidden of $("speakers").querySelectorAll(".keys[hidden]")) hidden.hidden = false;
arrive();
new ResizeObserver(measure).observe(place);
addEventListener("resize", measure);
document.fonts.ready.then(() => scrolledAt < 0 && arrive());
