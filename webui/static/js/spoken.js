// The words of a recording in the page: parts of some minutes, of which only those near the view are there. The others are asked for
// when they are needed; what was here once is kept beside the page, so that it comes back as it was.
import { lastBefore } from "./player.js";

const NEAR = "1200px";

export class Spoken extends EventTarget {
  constructor(box) {
    super();
    this.box = box;
    this.parts = [...box.querySelectorAll(".part")].map((el, n) => ({
      n, el, start: Number(el.dataset.start), end: Number(el.dataset.end), here: Boolean(el.dataset.here), spans: null, kept: null, asked: null,
    }));
    this.starts = this.parts.map((part) => part.start);
    for (const part of this.parts) if (part.here) this.#took(part, part.el);
    this.#count();
    const drawn = this.parts.find((part) => part.here);
    this.tall = drawn ? drawn.el.offsetHeight / Math.max(1, drawn.end - drawn.start) : 0; // pixels a ms, for parts that nobody saw yet
    for (const part of this.parts) if (!part.here) part.el.style.minHeight = `${(part.end - part.start) * this.tall}px`;
    const of = new Map(this.parts.map((part) => [part.el, part]));
    this.seen = new IntersectionObserver((entries) => {
      for (const entry of entries) if (entry.isIntersecting) this.show(of.get(entry.target)).catch(() => {}); else this.#away(of.get(entry.target));
    }, { rootMargin: NEAR });
    addEventListener("beforeprint", () => { for (const part of this.parts) this.#put(part); });
    if (this.parts.length > 1) for (const part of this.parts) this.seen.observe(part.el);
    box.addEventListener("click", (event) => {
      const link = event.target.closest("a[data-part]");
      if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.show(this.parts[Number(link.dataset.part)]).then((part) => part.el.scrollIntoView({ block: "start" }));
    });
  }

  #took(part, root) {
    part.spans = [...root.querySelectorAll("[data-s]")];
    part.utterances = [...root.querySelectorAll("[data-u]")];
  }

  /** Every word that was asked for so far, in order: `spans`, when they start: `times`, and where each stands: `places`. */
  #count() {
    this.spans = this.parts.flatMap((part) => part.spans ?? []);
    this.times = this.spans.map((span) => Number(span.dataset.s));
    this.places = new Map(this.spans.map((span, index) => [span, index]));
    this.utterances = new Map(this.parts.flatMap((part) => (part.utterances ?? []).map((el) => [Number(el.dataset.u), el])));
  }

  /** The part with its words, asked for where nobody did. */
  need(part) {
    if (part.spans) return Promise.resolve(part);
    part.asked ??= this.#ask(part);
    return part.asked;
  }

  async #ask(part) {
    const response = await fetch(`${this.box.dataset.words.replace(/0$/, part.n)}${this.box.dataset.more}`).catch(() => null);
    if (!response?.ok) {
      part.asked = null;
      const told = response && response.status !== 401 ? "Other words stand here by now." : "These words could not be loaded.";
      part.el.querySelector(".elsewhere").textContent = `${told} Load the page again.`;
      throw new Error("no words");
    }
    part.kept = new DocumentFragment();
    part.kept.append(...new DOMParser().parseFromString(await response.text(), "text/html").body.childNodes);
    this.#took(part, part.kept);
    this.#count();
    this.dispatchEvent(new Event("more"));
    return part;
  }

  all() { return Promise.all(this.parts.map((part) => this.need(part))); }

  /** Put a part into the page. */
  async show(part) {
    await this.need(part);
    this.#put(part);
    return part;
  }

  #put(part) {
    if (!part.kept) return;
    part.el.replaceChildren(part.kept);
    part.el.style.minHeight = "";
    part.kept = null;
  }

  /** Take a part out of the page, unless somebody is at it: a speaker chosen and not saved, the cursor, text that is marked. */
  #away(part) {
    const marked = getSelection();
    if (!part.spans || part.kept || part.el.contains(document.activeElement)) return;
    if ((!marked.isCollapsed && marked.containsNode(part.el, true)) || [...part.el.querySelectorAll("select")].some((s) => s.value !== "leave")) return;
    part.el.style.minHeight = `${part.el.offsetHeight}px`;
    part.kept = document.createDocumentFragment();
    part.kept.append(...part.el.childNodes);
  }

  /** The word that is said at this time; null where its part is still asked for. */
  at(ms) {
    const part = this.parts[Math.max(0, lastBefore(this.starts, ms))];
    if (!part) return null;
    if (part.spans) return this.spans[lastBefore(this.times, ms)] ?? null;
    this.need(part).catch(() => {});
    return null;
  }

  /** The same, once its part is here and in the page. */
  async shown(ms) {
    const part = this.parts[Math.max(0, lastBefore(this.starts, ms))];
    if (part) await this.show(part);
    return part ? this.at(ms) : null;
  }

  partOf(span) {
    const index = this.places.get(span);
    let first = 0;
    for (const part of this.parts) {
      first += part.spans?.length ?? 0;
      if (index < first) return part;
    }
    return null;
  }

  /** The word so many words on, or null at an end; parts that are between are asked for. */
  async beside(span, step) {
    const part = this.partOf(span);
    const index = part.spans.indexOf(span) + step;
    if (part.spans[index]) return part.spans[index];
    const next = this.parts[part.n + Math.sign(step)];
    if (!next) return null;
    await this.need(next);
    return (step < 0 ? next.spans.at(-1) : next.spans[0]) ?? null;
  }

  /** The words from one to another, both of them too, whichever comes first. */
  async range(one, other) {
    const [a, b] = [this.partOf(one).n, this.partOf(other).n].sort((x, y) => x - y);
    await Promise.all(this.parts.slice(a, b + 1).map((part) => this.need(part)));
    const [first, last] = [this.places.get(one), this.places.get(other)].sort((x, y) => x - y);
    return this.spans.slice(first, last + 1);
  }
}

const plain = (text) => text.normalize("NFD").replace(/[^\p{L}\p{N}]/gu, "").toLowerCase();

/** Look for words in a recording of which the page has only a part. `found(span)` is told the first word of each hit. */
export function lookFor(form, spoken, found) {
  const field = form.querySelector("input");
  const said = form.querySelector("[role=status]");
  let last = -1;
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const wanted = field.value.split(/\s+/).map(plain).filter(Boolean);
    if (!wanted.length) return;
    said.textContent = "Looking …";
    try { await spoken.all(); } catch { said.textContent = "Not all words could be loaded. Load the page again."; return; }
    const every = spoken.spans.map((span) => plain(span.firstChild.textContent));
    const places = every.map((_, n) => n).filter((n) => wanted.every((w, k) => (k < wanted.length - 1 ? every[n + k] === w : every[n + k]?.startsWith(w))));
    const number = Math.max(0, places.findIndex((n) => n > last));
    last = places[number] ?? -1;
    said.textContent = places.length ? `${number + 1} of ${places.length}` : "It is not said here.";
    if (places.length) found(spoken.spans[last]);
  });
  field.addEventListener("input", () => { last = -1; said.textContent = ""; });
}
