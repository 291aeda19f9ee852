// Choosing words: click one to hear it, Shift and click (or Shift and arrows) to reach from there to another. Or two taps.
export class Choosing {
  constructor(spoken, play, chosen) {
    this.spoken = spoken;
    this.box = spoken.box;
    this.play = play;
    this.chosen = chosen; // told the picked words whenever they change
    this.tapping = false; // choosing with two taps
    this.half = false; // the first of the two is made
    this.caret = null;
    this.anchor = null;
    this.picked = [];
    this.first = document.getElementById("first");
    this.box.addEventListener("click", (event) => this.#click(event));
    this.box.addEventListener("mousedown", (event) => { if (event.shiftKey) event.preventDefault(); });
    this.box.addEventListener("keydown", (event) => this.#key(event));
    document.getElementById("choose-none")?.addEventListener("click", () => { this.#choose([]); this.box.focus(); });
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

  async #tap(span) {
    this.#move(span);
    if (!this.half) {
      this.half = true;
      this.anchor = span;
      this.#choose([span]);
      this.#say(`First word: “${this.#text()}”. Tap the last word.`);
      return;
    }
    this.half = false;
    this.#choose(await this.spoken.range(this.anchor, span));
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

  async #click(event) {
    const span = event.target.closest("[data-s]");
    if (!span) return;
    if (this.tapping && !event.shiftKey) { await this.#tap(span); return; }
    if (event.shiftKey && this.caret) {
      this.anchor ??= this.caret;
      this.#move(span);
      this.#choose(await this.spoken.range(this.anchor, span));
      return;
    }
    if (String(getSelection()).trim()) return; // somebody is marking text to copy it
    this.#move(span);
    this.anchor = span;
    this.#choose([]);
    this.play(Number(span.dataset.s));
  }

  async #key(event) {
    if (event.target !== this.box || event.ctrlKey || event.metaKey || event.altKey || !this.spoken.spans.length) return;
    const steps = { ArrowLeft: -1, ArrowRight: 1 };
    let to = null;
    if (event.key === "Enter" && this.caret) { event.preventDefault(); this.play(Number(this.caret.dataset.s)); return; }
    if (event.key === "Escape") { this.#choose([]); return; }
    if (!(event.key in steps) && event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
    event.preventDefault();
    if (!this.caret) to = this.#firstInPage();
    else if (event.key in steps) to = await this.spoken.beside(this.caret, steps[event.key]);
    else to = await this.#neighbour(event.key === "ArrowDown" ? 1 : -1);
    to ??= this.caret;
    if (event.shiftKey) {
      this.anchor ??= this.caret ?? to;
      await this.#move(to);
      this.#choose(await this.spoken.range(this.anchor, to));
    } else {
      await this.#move(to);
      this.anchor = to;
      this.#choose([]);
    }
  }

  #firstInPage() { return this.box.querySelector("[data-s]"); }

  /** First word of the next or the previous utterance. */
  async #neighbour(step) {
    const here = this.caret.parentElement;
    let span = this.caret;
    while (span?.parentElement === here) span = await this.spoken.beside(span, step);
    if (!span) return this.caret;
    return step > 0 ? span : span.parentElement.querySelector("[data-s]");
  }

  /** Set the mark at a word; nothing is chosen then. */
  mark(span) {
    this.#move(span);
    this.anchor = span;
    this.#choose([]);
  }

  async #move(span) {
    this.caret?.classList.remove("caret");
    this.caret = span;
    span.classList.add("caret");
    if (!span.isConnected) await this.spoken.show(this.spoken.partOf(span));
    span.scrollIntoView({ block: "nearest" });
  }

  #choose(words) {
    if (!words.length && this.tapping) { this.half = false; this.#say("Tap the first word."); }
    for (const span of this.picked) span.classList.remove("picked");
    this.picked = words;
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
