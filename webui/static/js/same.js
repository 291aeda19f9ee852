// The same elsewhere: each place played, then changed or left, by keys. What is ticked here is all that is sent.
const places = [...document.querySelectorAll("#same .stretch")];
let current = places[0] ?? null;

const box = (item) => item.querySelector("input[name=place]");

function mark(item) {
  current?.classList.remove("current");
  current = item;
  current?.classList.add("current");
  current?.scrollIntoView({ block: "nearest" });
}

function count() {
  if (!places.length) return;
  const ticked = places.filter((item) => box(item).checked).length;
  document.getElementById("count").textContent = `${ticked} of ${places.length} ticked.`;
}

/** Change or leave where the keys are, and go on; after the last one the button is next. */
function decide(change) {
  if (!current) return;
  box(current).checked = change;
  count();
  const next = places[places.indexOf(current) + 1];
  if (next) mark(next);
  else document.querySelector("#same button.main").focus();
}

function move(by) {
  const next = places[places.indexOf(current) + by];
  if (next) mark(next);
}

const does = {
  " ": () => current?.querySelector(".play")?.click(),
  c: () => decide(true),
  l: () => decide(false),
  ArrowDown: () => move(1),
  ArrowUp: () => move(-1),
};
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey || event.repeat) return;
  if (event.target.closest("input:not([name=place]), select, textarea, summary, button, a")) return;
  const act = does[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act || (event.key === " " && event.target.closest("input"))) return;
  event.preventDefault();
  act();
});
for (const item of places) {
  box(item).addEventListener("change", count);
  item.addEventListener("click", () => mark(item));
}
for (const line of document.querySelectorAll(".keys[hidden]")) line.hidden = !places.length;
if (current) current.classList.add("current");
count();
