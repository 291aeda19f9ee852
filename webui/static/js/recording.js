// One recording: the player, the words that follow the sound, and choosing words.
import { CANNOT_PLAY, Player, clock, cut, lastBefore, parse } from "./player.js";
import { Choosing } from "./choosing.js";
import { speakersByKey } from "./voices.js";

const place = document.getElementById("player");
const words = document.getElementById("words");
const spans = words ? [...words.querySelectorAll("[data-s]")] : [];
const starts = spans.map((span) => Number(span.dataset.s));
const playable = parse(place.dataset.playable);
const duration = Number(place.dataset.duration);
const player = new Player();
const $ = (id) => document.getElementById(id);
const still = matchMedia("(prefers-reduced-motion: reduce)").matches;

let lit = null;
let followed = null;
function follow() {
  const now = player.now;
  $("needle").setAttribute("x1", (now * 1200) / duration);
  $("needle").setAttribute("x2", (now * 1200) / duration);
  if ($("now")) $("now").textContent = clock(now);
  if ($("position") && document.activeElement !== $("position")) $("position").value = Math.floor(now / 1000);
  const word = player.playing ? spans[lastBefore(starts, now + 40)] : null;
  if (word === lit) return;
  lit?.classList.remove("now");
  word?.classList.add("now");
  if (word && followed !== word.parentElement && !busy()) {
    bringIntoView(word);
    followed = word.parentElement;
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
  const last = spans.indexOf(picked.at(-1));
  endsAt = clicked !== null && last >= 0 ? Number(spans[last].dataset.e ?? starts[last + 1] ?? duration) : Infinity;
  halt();
}
function halt() {
  if (!player.playing || player.now < endsAt) return;
  player.pause();
  unclick();
}
function unclick() { clicked = null; endsAt = Infinity; }

function bringIntoView(word) {
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
  if (!here || location.hash !== "#here") return;
  here.scrollIntoView({ block: "start", behavior: "instant" });
  const word = spans[lastBefore(starts, Number(place.dataset.from))];
  if (word && here.contains(word)) word.scrollIntoView({ block: "nearest", behavior: "instant" });
}

function goTo(ms, andPlay) {
  unclick();
  player.seek(ms);
  if (andPlay) player.play();
}

if (playable.length) {
  const breaks = [...document.querySelectorAll(".utterance [data-at]")].map((a) => Number(a.dataset.at));
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
    const word = spans[lastBefore(starts, Number(link.dataset.at) + 40)];
    if (word) bringIntoView(word);
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    if (event.target.closest("input, select, textarea, summary, button, a")) return;
    if (event.key === " ") { event.preventDefault(); unclick(); player.toggle(); }
    if (event.target.closest("#words")) return; // there the arrows go from word to word
    if (event.key === "ArrowLeft") { event.preventDefault(); goTo(player.now - 5000); }
    if (event.key === "ArrowRight") { event.preventDefault(); goTo(player.now + 5000); }
  });
}

function playFrom(ms) {
  if (!playable.length) return;
  goTo(ms, true);
  clicked = ms;
  scrolled(); // it may be the first word of a choice
}
if (words) new Choosing(words, spans, playFrom, chosen);

/** What a digit is for: what is chosen, else what plays, else where the mark stands. */
function spokenHere() {
  const some = picked.length ? picked : [player.playing && lit ? lit : words.querySelector(".caret")];
  return [...new Set(some.filter(Boolean).map((span) => span.closest("[data-u]")))];
}
function assigned(utterances, code, label) {
  for (const utterance of utterances) {
    utterance.classList.toggle("nobody", !code);
    const told = document.createElement("span");
    told.textContent = label;
    const line = utterance.querySelector(".speaker");
    line.replaceChildren(line.querySelector(".time"), told);
  }
}
if (words && $("speakers")) {
  for (const hidden of $("speakers").querySelectorAll(".keys[hidden]")) hidden.hidden = false;
  speakersByKey($("speakers"), words, spokenHere, assigned);
}
arrive();
new ResizeObserver(measure).observe(place);
addEventListener("resize", measure);
document.fonts.ready.then(() => scrolledAt < 0 && arrive());
