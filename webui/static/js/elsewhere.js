// After names were corrected at the desk: in how many other places the same changes may be wanted. Quiet; nothing is changed from here.
const MOST_WORDS = 6;
const MOST_BETWEEN = 600; // words between the first and the last change of a line; with more between, nothing is offered

/** The runs of words that were taken out and put in between two texts, in order; a run of many words is no spelling, and not told. */
export function differences(before, after) {
  const [old, now] = [before, after].map((text) => text.split(/\s+/).filter(Boolean));
  while (old.length && now.length && old.at(-1) === now.at(-1)) { old.pop(); now.pop(); }
  while (old.length && now.length && old[0] === now[0]) { old.shift(); now.shift(); }
  if (Math.max(old.length, now.length) > MOST_BETWEEN) return [];
  const common = inCommon(old, now);
  const found = [];
  let [i, j, from, to] = [0, 0, 0, 0];
  const close = () => {
    if (from < i && to < j && i - from <= MOST_WORDS && j - to <= MOST_WORDS) found.push({ before: old.slice(from, i).join(" "), after: now.slice(to, j).join(" ") });
  };
  while (i < old.length || j < now.length) {
    if (i < old.length && j < now.length && old[i] === now[j]) { close(); i += 1; j += 1; [from, to] = [i, j]; }
    else if (j === now.length || (i < old.length && common(i + 1, j) >= common(i, j + 1))) i += 1;
    else j += 1;
  }
  close();
  return found;
}

/** (i, j) → how many words the rests of two texts, from there on, have in common in order. */
function inCommon(old, now) {
  const wide = now.length + 1;
  const table = new Uint16Array((old.length + 1) * wide);
  for (let i = old.length - 1; i >= 0; i -= 1)
    for (let j = now.length - 1; j >= 0; j -= 1)
      table[i * wide + j] = old[i] === now[j] ? table[(i + 1) * wide + j + 1] + 1 : Math.max(table[(i + 1) * wide + j], table[i * wide + j + 1]);
  return (i, j) => table[i * wide + j];
}

export class Elsewhere {
  /** `form` posts to the page that shows the places; `kept` resolves when all that was typed is kept. */
  constructor(form, token, kept) {
    Object.assign(this, { form, token, kept, offers: [] });
    this.words = form.querySelector("#offer");
    this.buttons = form.querySelector("#offered");
    form.addEventListener("submit", (event) => { event.preventDefault(); this.open(); });
    form.querySelector("#not-now").addEventListener("click", () => { this.offers.shift(); this.#show(); });
  }

  /** Look at what became of a line's text since it was first touched: each change by itself. */
  async look(before, after) {
    const typed = differences(before, after);
    if (!typed.length) return;
    await this.kept();
    const found = await Promise.all(typed.map((one) => this.#ask(one)));
    const come = found.filter((one) => one.places);
    const same = (a) => (b) => a.wrong === b.wrong && a.right === b.right;
    this.offers = [...come, ...this.offers.filter((one) => !come.some(same(one)))];
    if (come.length) this.#show();
  }

  async #ask(typed) {
    try {
      const response = await fetch(this.form.dataset.ask, { method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": this.token }, body: JSON.stringify(typed) });
      return response.ok ? await response.json() : {};
    } catch { return {}; /* no answer: nothing is offered, nothing is lost */ }
  }

  /** Go to the places of the offer that is shown. */
  async open() {
    const [offer] = this.offers;
    if (!offer) return;
    await this.kept();
    this.form.elements.wrong.value = offer.wrong;
    this.form.elements.right.value = offer.right;
    this.form.submit();
  }

  #show() {
    const [offer, ...more] = this.offers;
    this.buttons.hidden = !offer;
    const waits = more.length ? ` After this, ${more.length === 1 ? "1 more change" : `${more.length} more changes`} may be wanted elsewhere.` : "";
    this.words.textContent = offer ? `The same elsewhere: “${offer.wrong}” stands in ${offer.places === 1 ? "1 more place" : `${offer.places} more places`}; “${offer.right}” there as well?${waits}` : "";
  }
}
