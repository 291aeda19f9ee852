// After a name was corrected at the desk: in how many other places the same change may be wanted. Quiet; nothing is changed from here.
const MOST_WORDS = 6;

/** The words that were taken out and put in between two texts, or null where they are none or many. */
export function difference(before, after) {
  const [old, now] = [before, after].map((text) => text.split(/\s+/).filter(Boolean));
  let lead = 0;
  while (lead < Math.min(old.length, now.length) && old[lead] === now[lead]) lead += 1;
  let tail = 0;
  while (tail < Math.min(old.length, now.length) - lead && old.at(-1 - tail) === now.at(-1 - tail)) tail += 1;
  const [gone, come] = [old.slice(lead, old.length - tail), now.slice(lead, now.length - tail)];
  if (!gone.length || !come.length || gone.length > MOST_WORDS || come.length > MOST_WORDS) return null;
  return { before: gone.join(" "), after: come.join(" ") };
}

export class Elsewhere {
  /** `form` posts to the page that shows the places; `kept` resolves when all that was typed is kept. */
  constructor(form, token, kept) {
    Object.assign(this, { form, token, kept, offer: null });
    this.words = form.querySelector("#offer");
    this.buttons = form.querySelector("#offered");
    form.addEventListener("submit", (event) => { event.preventDefault(); this.open(); });
    form.querySelector("#not-now").addEventListener("click", () => this.#show(null));
  }

  /** Look at what became of a line's text since it was first touched. */
  async look(before, after) {
    const typed = difference(before, after);
    if (!typed) return;
    await this.kept();
    try {
      const response = await fetch(this.form.dataset.ask, { method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": this.token }, body: JSON.stringify(typed) });
      const offer = response.ok ? await response.json() : {};
      if (offer.places) this.#show(offer);
    } catch { /* no answer: nothing is offered, nothing is lost */ }
  }

  /** Go to the places of the newest offer. */
  async open() {
    if (!this.offer) return;
    await this.kept();
    this.form.elements.wrong.value = this.offer.wrong;
    this.form.elements.right.value = this.offer.right;
    this.form.submit();
  }

  #show(offer) {
    this.offer = offer;
    this.buttons.hidden = !offer;
    this.words.textContent = offer ? `The same elsewhere: “${offer.wrong}” stands in ${offer.places === 1 ? "1 more place" : `${offer.places} more places`}; “${offer.right}” there as well?` : "";
  }
}
