// Keys that do something on a page: shown there, and changeable. Kept in this browser; nothing else is.
const TYPING = "input, select, textarea, [contenteditable]";
const SIGNS = { Comma: ",", Period: ".", Space: "space", Enter: "Enter", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓" };

/** "Alt+KeyP" for a key event; "" for one that is only Alt, Ctrl or Shift. */
export function pressed(event) {
  if (["Alt", "Control", "Shift", "Meta", "AltGraph"].includes(event.key)) return "";
  const parts = [event.ctrlKey || event.metaKey ? "Ctrl" : "", event.altKey ? "Alt" : "", event.shiftKey ? "Shift" : "", event.altKey || event.shiftKey ? event.code : event.code.replace(/^Numpad(?=\d$)/, "Digit")];
  return parts.filter(Boolean).join("+");
}

/** "Alt+KeyP" as people read it. */
export function told(keys) {
  return keys.split("+").map((part) => SIGNS[part] ?? part.replace(/^(Key|Digit)/, "")).join(" ");
}

/**
 * Who speaks, by keys, the same on every page: a digit each, in the order of the interview. `people`: [code, what a press does in words];
 * the code "" is nobody. `held` is held with the digit: "Alt+" where digits are typed.
 */
export function speakerKeys(people, held = "", name = "speaker") {
  const some = people.filter(([code]) => code).slice(0, 9);
  return Object.fromEntries([
    ...some.map(([code, words], n) => [`${name}:${code}`, [words, `${held}Digit${n + 1}`]]),
    ...people.filter(([code]) => !code).map(([, words]) => [`${name}:`, [words, `${held}Digit0`]]),
  ]);
}

export class Keys {
  /**
   * `does`: name → [what it does in words, its keys, where they are not ours (a selector)]; `act(name, event)` is called when they are
   * pressed. `place`: under which name of the browser's store changed keys are kept. A key alone, or with Shift, is for typing where
   * somebody types.
   */
  constructor(does, act, place = "keys") {
    this.does = does;
    this.act = act;
    this.place = place;
    this.waiting = "";
    let kept = {};
    try { kept = JSON.parse(localStorage.getItem(place) ?? "{}"); } catch { /* the keys as they came */ }
    this.of = Object.fromEntries(Object.entries(does).map(([name, [, keys]]) => [name, typeof kept[name] === "string" ? kept[name] : keys]));
    addEventListener("keydown", (event) => this.#down(event), { capture: true });
  }

  /** A table of what can be pressed, in which each may be changed. */
  show(body, back) {
    body.replaceChildren(...Object.keys(this.does).map((name) => {
      const row = document.createElement("tr");
      const label = document.createElement("th");
      label.scope = "row";
      label.textContent = this.does[name][0];
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = told(this.of[name]);
      button.setAttribute("aria-label", `${this.does[name][0]}: ${told(this.of[name])}. Change it`);
      button.addEventListener("click", () => { this.waiting = name; button.textContent = "press keys …"; });
      button.addEventListener("blur", () => { if (this.waiting === name) { this.waiting = ""; this.show(body, back); } });
      const cell = document.createElement("td");
      cell.append(button);
      row.append(label, cell);
      return row;
    }));
    for (const el of document.querySelectorAll("[data-kbd]")) if (this.of[el.dataset.kbd]) el.textContent = told(this.of[el.dataset.kbd]);
    this.again = () => this.show(body, back);
    back.onclick = () => {
      localStorage.removeItem(this.place);
      for (const [name, [, keys]] of Object.entries(this.does)) this.of[name] = keys;
      this.again();
    };
  }

  #down(event) {
    const keys = pressed(event);
    if (!keys) return;
    if (this.waiting) {
      event.preventDefault();
      event.stopPropagation();
      if (event.key !== "Escape") this.#take(this.waiting, keys);
      this.waiting = "";
      this.again?.();
      return;
    }
    const name = Object.keys(this.of).find((n) => this.of[n] === keys);
    const held = event.ctrlKey || event.metaKey || event.altKey;
    if (!name || (!held && event.target.closest?.(TYPING)) || (this.does[name][2] && event.target.closest?.(this.does[name][2]))) return;
    event.preventDefault();
    event.stopPropagation();
    this.act(name, event);
  }

  #take(name, keys) {
    for (const other of Object.keys(this.of)) if (this.of[other] === keys) this.of[other] = this.of[name]; // they change places
    this.of[name] = keys;
    localStorage.setItem(this.place, JSON.stringify(this.of));
  }
}
