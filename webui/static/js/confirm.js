// Confirming by keys: each does what its button does.
import { Keys } from "./keys.js";

const $ = (id) => document.getElementById(id);
const plays = () => [...document.querySelectorAll("#evidence .play")];
const BUTTONS = "button, a, summary";
const does = {
  yes: ["Yes, confirm it", "KeyY"],
  no: ["No, reject it", "KeyN"],
  other: ["Say something else", "KeyO"],
  skip: ["Skip it", "KeyS"],
  same: ["Show the same evidence elsewhere", "KeyE"],
  undo: ["Take your last decision back", "KeyU"],
  play: ["Play or pause these words", "Space", BUTTONS],
  passage: ["Play or pause the passage", "KeyP"],
};
const act = {
  yes: () => $("yes").click(),
  no: () => $("no").click(),
  other: () => $("value")?.focus(),
  skip: () => $("skip").click(),
  same: () => $("same-evidence").click(),
  undo: () => $("undo-form").requestSubmit(),
  play: () => plays()[0]?.click(),
  passage: () => plays().at(-1)?.click(),
};
const LEAVES = { yes: "yes", no: "no", skip: "skip", same: "same-evidence", undo: "undo-form" }; // and what is pressed then
let left = false; // what a key did is on its way: the next page has the next suggestion, and no key is for this one any more
const keys = new Keys(does, (name, event) => {
  if (event.repeat || left || (name in LEAVES && !$(LEAVES[name]))) return;
  left = name in LEAVES;
  act[name]();
}, "confirm-keys");
addEventListener("pageshow", () => { left = false; });
for (const el of document.querySelectorAll(".with-js")) el.hidden = false;
if ($("keys")) keys.show($("keys"), $("keys-back"));
