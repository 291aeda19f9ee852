// A list by keys: from passage to passage, up and down, off. Each is a button on the page, which is what a key presses.
import { Keys } from "./keys.js";

const tray = document.getElementById("tray");
const items = tray ? [...tray.children] : [];
let at = Math.max(0, items.findIndex((item) => `#${item.id}` === location.hash));

function go(to) {
  at = Math.min(Math.max(to, 0), items.length - 1);
  items[at].focus();
  items[at].scrollIntoView({ block: "nearest" });
}

tray?.addEventListener("focusin", (event) => { at = items.indexOf(event.target.closest("#tray > li")); });

const acts = {
  next: () => go(document.activeElement.closest("#tray") ? at + 1 : at),
  previous: () => go(at - 1),
  play: () => items[at].querySelector(".play")?.click(),
  up: () => items[at].querySelector("[data-do=up]")?.click(),
  down: () => items[at].querySelector("[data-do=down]")?.click(),
  off: () => items[at].querySelector("[data-do=off]")?.click(),
};
if (tray) {
  const keys = new Keys({
    next: ["the next passage", "KeyN"],
    previous: ["the passage before", "KeyB"],
    play: ["play or pause it", "KeyL"],
    up: ["move it up", "KeyU"],
    down: ["move it down", "KeyD"],
    off: ["take it off", "KeyO"],
  }, (name) => acts[name](), "keys-lists");
  keys.show(document.getElementById("keys"), document.getElementById("keys-back"));
  if (location.hash.startsWith("#item-")) go(at); // back from a move: the passage that was moved keeps the focus
}
