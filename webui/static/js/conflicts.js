// Places where a newer hearing differs from what people corrected: listed beside the words, decided one by one.
import { clock } from "./player.js";

const MOST = 20; // in the page at once

export class Conflicts {
  /** `ask(body)` changes something and comes back when it is kept; `go(place)` shows and plays a place. */
  constructor(root, { ask, go }) {
    this.root = root;
    this.ask = ask;
    this.go = go;
    this.all = [];
    this.at = null;
  }

  async load(first = false) {
    const response = await fetch(this.root.dataset.list);
    if (!response.ok) return;
    this.all = await response.json();
    if (!this.all.includes(this.at)) this.at = this.all.find((c) => this.at && c.id === this.at.id) ?? null;
    this.root.hidden = first && !this.all.length;
    this.#draw();
  }

  next() {
    const open = this.all.filter((c) => !c.closed);
    if (!open.length) return;
    this.at = open[(open.indexOf(this.at) + 1) % open.length];
    this.#draw();
    this.go(this.at);
  }

  async decide(act, one = this.at) {
    if (!one) return;
    const after = this.all.slice(this.all.indexOf(one) + 1).find((c) => !c.closed) ?? null;
    await this.ask({ act, at: one.id });
    this.at = after;
    await this.load();
    if (this.at) this.go(this.at);
  }

  #draw() {
    const many = this.all.length;
    this.root.querySelector("#conflicts-said").textContent = many ? `${many} ${many === 1 ? "place waits" : "places wait"}.` : "Every place is decided.";
    const from = Math.max(0, Math.min(this.all.indexOf(this.at), many - MOST));
    const list = this.root.querySelector("ol");
    list.start = from + 1;
    list.replaceChildren(...this.all.slice(from, from + MOST).map((c) => this.#item(c)));
  }

  #item(c) {
    const item = document.createElement("li");
    if (c === this.at) item.setAttribute("aria-current", "true");
    if (c.closed) {
      item.textContent = `${clock(c.start_ms)}: something is closed here. It can be decided when it is open again.`;
      return item;
    }
    const where = document.createElement("p");
    where.append(this.#button(clock(c.start_ms), `Play from ${clock(c.start_ms)}`, () => { this.at = c; this.#draw(); this.go(c); }, "plain time"), ` ${c.speaker || "Speaker not known yet"}`);
    const buttons = document.createElement("p");
    buttons.className = "buttons";
    buttons.append(this.#button("Keep ours", `Keep ours: ${c.ours || "nothing"}`, () => this.decide("ours", c)), " ", this.#button("Take the newer", `Take the newer: ${c.theirs || "nothing"}`, () => this.decide("newer", c)));
    item.append(where, this.#said("Ours", c.ours), this.#said("Newer", c.theirs), buttons);
    return item;
  }

  #said(whose, text) {
    const p = document.createElement("p");
    const label = document.createElement("span");
    label.className = "quiet";
    label.textContent = `${whose}: `;
    const said = document.createElement("span");
    said.className = "said";
    said.textContent = text || "(nothing)";
    p.append(label, said);
    return p;
  }

  #button(text, label, does, className = "") {
    const button = document.createElement("button");
    button.type = "button";
    button.className = className;
    button.textContent = text;
    button.setAttribute("aria-label", label);
    button.addEventListener("click", does);
    return button;
  }
}
