// After a name was corrected at the desk: in how many other places the same change may be wanted. Quiet; nothing is changed from here.
const MOST_WORDS = 6;
const MOST_OFFERS = 3;

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
  /** `form`: posts to the page that shows the places; `list`: where offers stand; `ask`: address; `kept`: resolves when all that was typed is kept. */
  constructor(form, list, ask, token, kept) {
    Object.assign(this, { form, list, ask, token, kept, offers: [] });
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const offer = this.offers[Number(event.submitter?.value ?? 0)];
      if (!offer) return;
      await this.kept();
      form.elements.wrong.value = offer.wrong;
      form.elements.right.value = offer.right;
      form.submit();
    });
  }

  /** Look at what became of a line's text since it was first touched. */
  async look(before, after) {
    const typed = difference(before, after);
    if (!typed) return;
    await this.kept();
    try {
      const response = await fetch(this.ask, { method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": this.token }, body: JSON.stringify(typed) });
      const offer = response.ok ? await response.json() : {};
      if (!offer.places) return;
      this.offers = [offer, ...this.offers.filter((o) => o.wrong !== offer.wrong || o.right !== offer.right)].slice(0, MOST_OFFERS);
      this.#show();
    } catch { /* no answer: nothing is offered, nothing is lost */ }
  }

  /** Open the newest offer. */
  open() { this.list.querySelector("button")?.click(); }

  #show() {
    this.form.closest(".card").hidden = false;
    this.list.replaceChildren(...this.offers.map((offer, n) => {
      const row = document.createElement("li");
      const button = document.createElement("button");
      button.type = "submit";
      button.value = String(n);
      button.textContent = offer.places === 1 ? "Show the place" : `Show ${offer.places} places`;
      row.append(`“${offer.wrong}” for “${offer.right}”: ${offer.places} ${offer.places === 1 ? "place" : "places"} `, button);
      return row;
    }));
  }
}
