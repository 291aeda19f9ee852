// Choosing words: click one to hear it, Shift and click (or Shift and arrows) to reach from there to another. Or two taps.
export class Choosing {
  constructor(box, spans, play, chosen) {
    this.box = box;
    this.spans = spans;
    this.play = play;
    this.chosen = chosen; // told the picked words whenever they change
    this.tapping = false; // choosing with two taps
    this.half = false; // the first of the two is made
    this.caret = -1;
    this.anchor = -1;
    this.picked = [];
    this.places = new Map(spans.map((span, index) => [span, index]));
    this.first = document.getElementById("first");
    box.addEventListener("click", (event) => this.#click(event));
    box.addEventListener("mousedown", (event) => { if (event.shiftKey) event.preventDefault(); });
    box.addEventListener("keydown", (event) => this.#key(event));
    document.getElementById("choose-none")?.addEventListener("click", () => { this.#choose(-1, -1); this.box.focus(); });
    for (const line of document.querySelectorAll(".with-js")) line.hidden = false;
    document.getElementById("taps")?.addEventListener("click", () => this.#switch());
    const form = document.getElementById("choose");
    if (form) new IntersectionObserver(([entry]) => { this.formSeen = entry.isIntersecting; this.#bar(); }).observe(form);
  }

  #switch() {
    this.tapping = !this.tapping;
    this.half = false;
    document.getElementById("taps").setAttribute("aria-pressed", String(this.tapping));
    this.#say(this.tapping ? "Tap the first word." : "");
    this.#bar();
  }

  #say(sentence) {
    const line = document.getElementById("taps-said");
    if (line) line.textContent = sentence;
  }

  #tap(index) {
    this.#move(index);
    if (!this.half) {
      this.half = true;
      this.anchor = index;
      this.#choose(index, index);
      this.#say(`First word: “${this.#text()}”. Tap the last word.`);
      return;
    }
    this.half = false;
    this.#choose(this.anchor, index);
    const count = this.picked.length;
    this.#say(`${count} ${count === 1 ? "word" : "words"} chosen. To choose others, tap a new first word.`);
  }

  #text() { return this.picked.map((span) => span.firstChild.textContent).join(" "); }

  /** On narrow screens the form is far from the words: a bar leads there while it is out of sight. */
  #bar() {
    const bar = document.getElementById("keep");
    if (!bar) return;
    document.getElementById("keep-words").textContent = this.#text();
    bar.hidden = !this.picked.length || this.half || this.formSeen;
    document.documentElement.classList.toggle("keeping", !bar.hidden);
  }

  #click(event) {
    const span = event.target.closest("[data-s]");
    if (!span) return;
    const index = this.places.get(span);
    if (this.tapping && !event.shiftKey) { this.#tap(index); return; }
    if (event.shiftKey && this.caret >= 0) {
      if (this.anchor < 0) this.anchor = this.caret;
      this.#move(index);
      this.#choose(this.anchor, index);
      return;
    }
    if (String(getSelection()).trim()) return; // somebody is marking text to copy it
    this.#move(index);
    this.anchor = index;
    this.#choose(-1, -1);
    this.play(Number(span.dataset.s));
  }

  #key(event) {
    if (event.target !== this.box || event.ctrlKey || event.metaKey || event.altKey || !this.spans.length) return;
    const steps = { ArrowLeft: -1, ArrowRight: 1 };
    let to = null;
    if (event.key in steps) to = this.caret < 0 ? 0 : this.caret + steps[event.key];
    else if (event.key === "ArrowUp" || event.key === "ArrowDown") to = this.#neighbour(event.key === "ArrowDown" ? 1 : -1);
    else if (event.key === "Enter" && this.caret >= 0) { event.preventDefault(); this.play(Number(this.spans[this.caret].dataset.s)); return; }
    else if (event.key === "Escape") { this.#choose(-1, -1); return; }
    else return;
    event.preventDefault();
    to = Math.max(0, Math.min(this.spans.length - 1, to));
    if (event.shiftKey) {
      if (this.anchor < 0) this.anchor = Math.max(0, this.caret);
      this.#move(to);
      this.#choose(this.anchor, to);
    } else {
      this.#move(to);
      this.anchor = to;
      this.#choose(-1, -1);
    }
  }

  /** First word of the next or the previous utterance. */
  #neighbour(step) {
    if (this.caret < 0) return 0;
    const here = this.spans[this.caret].parentElement;
    let index = this.caret;
    while (this.spans[index] && this.spans[index].parentElement === here) index += step;
    if (!this.spans[index]) return this.caret;
    const there = this.spans[index].parentElement;
    while (step < 0 && this.spans[index - 1]?.parentElement === there) index -= 1;
    return index;
  }

  #move(index) {
    this.spans[this.caret]?.classList.remove("caret");
    this.caret = index;
    this.spans[index].classList.add("caret");
    this.spans[index].scrollIntoView({ block: "nearest" });
  }

  #choose(from, to) {
    if (from < 0 && this.tapping) { this.half = false; this.#say("Tap the first word."); }
    for (const span of this.picked) span.classList.remove("picked");
    const [first, last] = from <= to ? [from, to] : [to, from];
    this.picked = first < 0 ? [] : this.spans.slice(first, last + 1);
    for (const span of this.picked) span.classList.add("picked");
    this.chosen(this.picked);
    if (!this.first) return; // this viewer chooses no excerpts
    const some = this.picked.length > 0;
    this.first.value = some ? this.#name(this.picked[0]) : "";
    document.getElementById("last").value = some ? this.#name(this.picked.at(-1)) : "";
    document.getElementById("chosen-text").textContent = this.#text();
    document.getElementById("chosen-words").hidden = !some;
    document.getElementById("by-words").hidden = some;
    if (some) document.getElementById("side").scrollTop = 0;
    this.#bar();
  }

  /** "utterance:word", as the server counts. */
  #name(span) {
    return `${span.closest(".utterance").dataset.u}:${span.dataset.n}`;
  }
}
