// Play buttons beside passages and excerpts: one sound at a time.
import { CANNOT_PLAY, Player, clock, cut, parse } from "./player.js";

const player = new Player();
let current = null;
const NOT_SAID = "Put a mark in the box first: it says that you listened and that exactly these words are said.";
const NOT_ANSWERED = "Answer first whether, together, these name her or him.";

function show(place) {
  const on = place === current && player.playing;
  const button = place.querySelector(".play");
  button.setAttribute("aria-pressed", String(on));
  place.dataset.label ??= button.querySelector(".say").textContent;
  button.querySelector(".say").textContent = on ? "Pause" : place.dataset.label;
}

for (const place of document.querySelectorAll(".listen")) {
  place.hidden = false;
  const start = Number(place.dataset.start);
  const end = Number(place.dataset.end);
  place.querySelector(".play").addEventListener("click", () => {
    if (current !== place) {
      const before = current;
      current = place;
      player.use(place.dataset.sound, cut(place.dataset.parts ? parse(place.dataset.parts) : [[start, end]]));
      if (before) show(before);
    }
    place.querySelector(".trouble").textContent = "";
    player.toggle();
  });
}
player.addEventListener("state", () => current && show(current));
player.addEventListener("time", () => {
  if (current) current.querySelector(".clock").textContent = `${clock(player.now)} – ${clock(Number(current.dataset.end))}`;
});
player.addEventListener("trouble", () => {
  if (current) { current.querySelector(".trouble").textContent = CANNOT_PLAY; show(current); }
});

// A tick opens when the stretch has been played to its end. Who fears that somebody is named may say so before that.
for (const form of document.querySelectorAll("form.tick")) {
  const check = form.querySelector("input[type=checkbox]");
  const button = form.querySelector("button:not(.play)");
  const answers = [...form.querySelectorAll("input[type=radio]")];
  const doubt = () => answers.some((answer) => answer.checked && answer.value === "somebody");
  let heard = false;
  const open = () => { check.disabled = !heard; button.disabled = !heard && !doubt(); };
  open();
  form.querySelector(".hint").hidden = false;
  form.noValidate = true; // what is missing is said here, in the words of this page
  const unsaid = form.querySelector(".unsaid");
  const clear = () => { unsaid.textContent = ""; check.removeAttribute("aria-invalid"); open(); };
  const say = (words, field) => {
    unsaid.textContent = words;
    if (field === check) check.setAttribute("aria-invalid", "true");
    field.focus();
  };
  form.addEventListener("change", clear);
  form.addEventListener("heard", () => { heard = true; open(); form.querySelector(".hint").hidden = true; });
  form.addEventListener("submit", (event) => {
    if (doubt() || (check.checked && (!answers.length || answers.some((answer) => answer.checked)))) return;
    event.preventDefault();
    if (check.checked) say(NOT_ANSWERED, answers[0]);
    else say(NOT_SAID, check);
  });
}
player.addEventListener("finished", () => current?.closest("form.tick")?.dispatchEvent(new Event("heard")));
