// One name: play each of its stretches by keys, mark what was heard, then decide about all of it.
import { CANNOT_PLAY, Player } from "./player.js";

const form = document.getElementById("name-form");
const waiting = [...document.querySelectorAll("#stretches .stretch")];
const every = [...document.querySelectorAll(".stretch")];
const player = new Player();
const AFTER_MS = 80; // past the end of the name: then it was heard, though sound goes on
let current = waiting[0] ?? null; // where the keys are
let sounding = null; // what plays

const box = (item) => item.querySelector("input[type=checkbox]");

function mark(item) {
  current?.classList.remove("current");
  current = item;
  current?.classList.add("current");
  current?.scrollIntoView({ block: "nearest" });
}

function next() {
  const index = waiting.indexOf(sounding ?? current);
  if (index < 0) return;
  if (index + 1 < waiting.length) mark(waiting[index + 1]);
  else if (form.querySelector("input[name=heard]:checked")) document.getElementById("hide").focus(); // the safe answer is nearest
}

function heard(item) {
  const check = box(item);
  if (!check.disabled || !item.dataset.sound) return;
  check.disabled = false;
  check.checked = true;
  item.classList.add("heard");
  count();
}

function count() {
  const chosen = form.querySelectorAll("input[name=heard]:checked").length;
  const alone = form.querySelectorAll("input[name=unheard]:checked").length;
  document.getElementById("count").textContent = chosen + alone
    ? `${chosen + alone} of ${every.length} chosen.`
    : "Nothing is heard yet.";
  for (const button of form.querySelectorAll("button[name=decision]")) {
    button.disabled = chosen + alone === 0 || (alone > 0 && button.value !== "hide");
  }
}

function show(item) {
  const button = item?.querySelector(".play");
  if (!button) return;
  const on = item === sounding && player.playing;
  button.setAttribute("aria-pressed", String(on));
  button.querySelector(".say").textContent = on ? "Pause" : "Play";
}

function play(item) {
  if (!item.dataset.sound) { sounding = item; next(); sounding = null; return; }
  const before = sounding;
  sounding = item;
  item.querySelector(".trouble").textContent = "";
  player.use(item.dataset.sound, [[Number(item.dataset.start), Number(item.dataset.end)]]);
  if (before && before !== item) show(before);
  player.play();
}

/** A press: play where the keys are; while that plays, go on to the next. */
function press() {
  if (!current) return;
  if (player.playing && sounding === current) {
    player.pause();
    next();
  } else play(current);
}

for (const item of every) {
  const button = item.querySelector(".play");
  if (button) {
    button.hidden = false;
    box(item).disabled = !box(item).checked; // what came back with a refusal was heard before
    button.addEventListener("click", () => {
      if (waiting.includes(item)) mark(item);
      if (item === sounding && player.playing) player.pause();
      else play(item);
    });
  }
  box(item).addEventListener("change", count);
}
player.addEventListener("time", () => { if (sounding && player.playing && player.now >= Number(sounding.dataset.nameEnd) + AFTER_MS) heard(sounding); });
player.addEventListener("state", () => show(sounding));
player.addEventListener("finished", () => {
  const done = sounding;
  if (!done) return;
  heard(done);
  if (done === current) next();
  sounding = null;
  show(done);
});
player.addEventListener("trouble", () => {
  if (sounding) { sounding.querySelector(".trouble").textContent = CANNOT_PLAY; show(sounding); }
});

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey || event.repeat) return;
  if (event.target.closest("input, select, textarea, summary, button, a")) return;
  const index = waiting.indexOf(current);
  if (event.key === " " || event.key === "Enter") { event.preventDefault(); press(); }
  if (event.key === "ArrowDown" && index + 1 < waiting.length) { event.preventDefault(); mark(waiting[index + 1]); }
  if (event.key === "ArrowUp" && index > 0) { event.preventDefault(); mark(waiting[index - 1]); }
});
for (const line of document.querySelectorAll(".keys[hidden]")) line.hidden = !waiting.length;
if (current) current.classList.add("current");
count();
