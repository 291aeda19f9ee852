// Play buttons beside passages and excerpts: one sound at a time.
import { CANNOT_PLAY, Player, clock, cut } from "./player.js";

const player = new Player();
let current = null;
const NOT_SAID = "Put a mark in the box first: it says that you listened and that exactly these words are said.";

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
      player.use(place.dataset.sound, cut([[start, end]]));
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

// A tick "heard against the sound" opens when the stretch has been played to its end.
for (const form of document.querySelectorAll("form.tick")) {
  const check = form.querySelector("input[type=checkbox]");
  const button = form.querySelector("button:not(.play)");
  check.disabled = button.disabled = true;
  form.querySelector(".hint").hidden = false;
  form.noValidate = true; // what is missing is said here, in the words of this page
  const unsaid = form.querySelector(".unsaid");
  const clear = () => { unsaid.textContent = ""; check.removeAttribute("aria-invalid"); };
  check.addEventListener("change", clear);
  form.addEventListener("submit", (event) => {
    if (check.checked) return;
    event.preventDefault();
    unsaid.textContent = NOT_SAID;
    check.setAttribute("aria-invalid", "true");
    check.focus();
  });
}
player.addEventListener("finished", () => {
  const form = current?.closest("form.tick");
  if (form) {
    for (const field of form.querySelectorAll(":disabled")) field.disabled = false;
    form.querySelector(".hint").hidden = true;
  }
});
