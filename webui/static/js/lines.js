// Lines of a transcript in the page: only what is near the view is there; the rest is room of the same height.
const GROUP = 12;
const NEAR = "1200px";
const marks = globalThis.Highlight ? { now: new Highlight(), unsure: new Highlight(), hides: new Highlight() } : null;
if (marks) for (const [name, mark] of Object.entries(marks)) CSS.highlights.set(`told-${name}`, mark);

/** Where each of these words stands in a text: [from, to], or null where it is written otherwise there. */
export function places(text, words) {
  let at = 0;
  return words.map(([word]) => {
    const from = text.indexOf(word, at);
    if (from < 0) return null;
    at = from + word.length;
    return [from, at];
  });
}

/** The places after a text was changed at one spot: before it they stay, behind it they move. */
export function moved(before, after, spots) {
  let lead = 0;
  const least = Math.min(before.length, after.length);
  while (lead < least && before[lead] === after[lead]) lead += 1;
  let tail = 0;
  while (tail < least - lead && before[before.length - 1 - tail] === after[after.length - 1 - tail]) tail += 1;
  const shift = after.length - before.length;
  return spots.map((spot) => {
    if (!spot || spot[1] <= lead) return spot;
    return spot[0] >= before.length - tail ? [spot[0] + shift, spot[1] + shift] : null;
  });
}

export function line(shown) {
  const text = shown.words.map(([word]) => word).join(" ");
  return { ...shown, text, spots: places(text, shown.words), dirty: false, trouble: "", theirs: "", el: null, ranges: [] };
}

export class Lines {
  /** `draw(line)` makes the element of a line; its words stand alone in the child `.said`. */
  constructor(root, draw) {
    this.root = root;
    this.draw = draw;
    this.groups = [];
    this.all = [];
    this.seen = new IntersectionObserver((entries) => {
      for (const entry of entries) this.#turn(entry.target.group, entry.isIntersecting);
    }, { rootMargin: NEAR });
  }

  add(shown) {
    for (let n = 0; n < shown.length; n += GROUP) {
      const group = { lines: shown.slice(n, n + GROUP).map(line), el: document.createElement("div"), drawn: false };
      group.el.className = "group";
      group.el.group = group;
      group.el.style.minHeight = `${group.lines.length * 5}rem`;
      this.groups.push(group);
      this.root.append(group.el);
      this.seen.observe(group.el);
    }
    this.#count();
  }

  /** Replace lines by others; where none of them is here, the new ones stand after the line `after`. Returns the new lines. */
  replace(gone, shown, after) {
    const made = shown.map(line);
    const old = this.all.filter((l) => gone.includes(l.key));
    const where = old[0] ?? this.all.find((l) => l.key === after) ?? this.all[0];
    const group = this.groups.find((g) => g.lines.includes(where)) ?? this.groups[0];
    if (!group) { this.add(shown); return this.all.slice(-made.length); }
    const at = old.length ? group.lines.indexOf(where) : after === 0 ? 0 : group.lines.indexOf(where) + 1;
    for (const l of old) {
      l.el?.remove();
      this.#undraw(l);
      const home = this.groups.find((g) => g.lines.includes(l));
      home.lines.splice(home.lines.indexOf(l), 1);
    }
    group.lines.splice(at, 0, ...made);
    this.#count();
    if (group.drawn) this.#fill(group, at, made);
    return made;
  }

  /** Draw new lines of a group that is drawn. The others stay as they are: somebody's cursor may be in one by now. */
  #fill(group, at, made) {
    const next = group.lines[at + made.length]?.el ?? null;
    for (const l of made) {
      l.el = this.draw(l);
      group.el.insertBefore(l.el, next);
      this.mark(l);
    }
  }

  /** The same line with other words and times; its element stays, and so does the cursor in it. */
  renew(old, shown, text) {
    Object.assign(old, { ...line(shown), el: old.el, text, spots: places(text, shown.words), dirty: old.dirty });
    this.mark(old);
  }

  show(wanted) {
    const group = this.groups.find((g) => g.lines.includes(wanted));
    if (group && !group.drawn) this.#draw(group);
    return wanted.el;
  }

  redraw(wanted) {
    const old = wanted.el;
    if (!old) return;
    this.#undraw(wanted);
    wanted.el = this.draw(wanted);
    old.replaceWith(wanted.el); // this line alone: the cursor may stand in the one beside it
    this.mark(wanted);
  }

  /** Mark what is unsure and what is hidden from readers in the words of a line. */
  mark(wanted) {
    this.#unmark(wanted);
    if (!marks || !wanted.el) return;
    wanted.words.forEach(([, , , signs], n) => {
      const range = signs ? this.range(wanted, n) : null;
      if (!range) return;
      for (const [sign, mark] of [["u", marks.unsure], ["h", marks.hides]]) if (signs.includes(sign)) { mark.add(range); wanted.ranges.push([mark, range]); }
    });
  }

  range(wanted, n) {
    const node = wanted.el?.querySelector(".said")?.firstChild;
    const spot = wanted.spots[n];
    if (!spot || node?.nodeType !== Node.TEXT_NODE || spot[1] > node.length) return null;
    const range = new Range();
    range.setStart(node, spot[0]);
    range.setEnd(node, spot[1]);
    return range;
  }

  lit(range) {
    if (!marks) return;
    marks.now.clear();
    if (range) marks.now.add(range);
  }

  #count() { this.all = this.groups.flatMap((g) => g.lines); }

  #turn(group, near) {
    if (near && !group.drawn) this.#draw(group);
    else if (!near && group.drawn && !group.el.contains(document.activeElement) && !group.lines.some((l) => l.dirty || l.trouble || l.theirs)) this.#away(group);
  }

  #draw(group) {
    for (const l of group.lines) this.#undraw(l);
    for (const l of group.lines) l.el = this.draw(l);
    group.el.replaceChildren(...group.lines.map((l) => l.el));
    group.el.style.minHeight = "";
    group.drawn = true;
    for (const l of group.lines) this.mark(l);
  }

  #away(group) {
    group.el.style.minHeight = `${group.el.offsetHeight}px`;
    for (const l of group.lines) this.#undraw(l);
    group.el.replaceChildren();
    group.drawn = false;
  }

  #undraw(l) { this.#unmark(l); l.el = null; }
  #unmark(l) { for (const [mark, range] of l.ranges) mark.delete(range); l.ranges = []; }
}
