// Keys that do something on a page: shown there, and changeable. Kept in this browser; nothing else is.
const KEPT = "keys";
const SIGNS = { Comma: ",", Period: ".", Space: "space", Enter: "Enter", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓" };

/** "Alt+KeyP" for a key event; "" for one that is only Alt, Ctrl or Shift. */
export function pressed(event) {
  if (["Alt", "Control", "Shift", "Meta", "AltGraph"].includes(event.key)) return "";
  const parts = [event.ctrlKey || event.metaKey ? "Ctrl" : "", event.altKey ? "Alt" : "", event.shiftKey ? "Shift" : "", event.code];
  return parts.filter(Boolean).join("+");
}

/** "Alt+KeyP" as people read it. */
export function told(keys) {
  return keys.split("+").map((part) => SIGNS[part] ?? part.replace(/^(Key|Digit)/, "")).join(" ");
}

export class Keys {
  /** `does`: name → [what it does in words, its keys]; `act(name)` is called when they are pressed. */
  constructor(does, act) {
    this.does = does;
    this.act = act;
    this.waiting = "";
    let kept = {};
    try { kept = JSON.parse(localStorage.getItem(KEPT) ?? "{}"); } catch { /* the keys as they came */ }
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
    this.again = () => this.show(body, back);
    back.onclick = () => {
      localStorage.removeItem(KEPT);
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
    if (!name) return;
    event.preventDefault();
    event.stopPropagation();
    this.act(name);
  }

  #take(name, keys) {
    for (const other of Object.keys(this.of)) if (this.of[other] === keys) this.of[other] = this.of[name]; // they change places
    this.of[name] = keys;
    localStorage.setItem(KEPT, JSON.stringify(this.of));
  }
}
