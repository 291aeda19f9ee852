// Who speaks, by keys (keys.js): one assigns what is meant, with Shift all that sound alike. For a page with words and a card of speakers.
import { speakerKeys } from "./keys.js";

/** Assign utterances (numbers) to a person's code ("": nobody). Answers {changed, unassigned, share}; throws words. */
export async function assign(address, token, utterances, code) {
  const body = new URLSearchParams({ csrf_token: token, u: utterances.join(","), person: code });
  return answerOf(await fetch(address, { method: "POST", body }));
}

/** Utterances that sound like this one. `address` ends in 0.json, where its number goes. Throws words. */
export async function alike(address, utterance) {
  return (await answerOf(await fetch(address.replace(/0\.json$/, `${utterance}.json`)))).alike;
}

async function answerOf(response) {
  if (!response.ok) throw new Error(await response.text());
  return response.json();
}

export class Speakers {
  /**
   * `card`: the section of speakers; `spoken`: the words (spoken.js); `here()`: the numbers of the utterances that a key is for;
   * `done(element, code, label)`: told of each utterance on the page that was assigned.
   */
  constructor(card, spoken, here, done) {
    this.card = card;
    this.spoken = spoken;
    this.here = here;
    this.done = done;
    this.people = new Map([...card.querySelectorAll("[data-label]")].map((item) => [item.dataset.code, item.dataset]));
    this.said = document.getElementById("speakers-said"); // near the sound: the card may be out of sight
    this.marked = null; // {code, numbers}: what sounds alike and waits for the same keys again
    this.busy = false;
    const every = [...this.people.values()].map((person) => [person.code, person.label]);
    this.does = { ...speakerKeys(every), ...(card.dataset.heard ? speakerKeys(every.map(([code, label]) => [code, `${label}: all that sound alike`]), "Shift+", "alike") : {}) };
    spoken.addEventListener("more", () => this.#paint());
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.marked) { this.#unmark(); this.said.textContent = "Nothing was assigned."; }
    });
  }

  /** Do what a key of `does` is for. */
  async press(name) {
    if (this.busy) return;
    this.busy = true;
    const [what, code] = name.split(":");
    try { await this.#press(what === "alike", this.people.get(code)); } catch (error) { this.said.textContent = error.message; }
    this.busy = false;
  }

  async #press(every, person) {
    if (every && this.marked?.code === person.code) {
      const { numbers } = this.marked;
      this.#unmark();
      await this.#give(numbers, person);
      return;
    }
    this.#unmark();
    const chosen = this.here();
    if (!chosen.length) { this.said.textContent = "Play, or click a word, and press the key again."; return; }
    if (every) await this.#mark(person.code, chosen[0]);
    else await this.#give(chosen, person);
  }

  async #give(numbers, person) {
    const answer = await assign(this.card.dataset.assign, this.card.querySelector("[name=csrf_token]").value, numbers, person.code);
    tell(this.card, answer);
    for (const number of numbers) if (this.spoken.utterances.has(number)) this.done(this.spoken.utterances.get(number), person.code, person.label);
    this.said.textContent = `${person.label}: ${numbers.length} ${numbers.length === 1 ? "utterance" : "utterances"}.`;
  }

  async #mark(code, first) {
    const others = await alike(this.card.dataset.alike, first);
    const numbers = [first, ...others.filter((number) => number !== first)];
    this.marked = { code, numbers };
    this.#paint();
    this.said.textContent = others.length
      ? `${others.length} more sound like this one and are marked. Listen to them; the same keys again assign all ${numbers.length}. Escape: none.`
      : "Nothing else surely sounds like this one. The same keys again assign it alone.";
  }

  #paint() { for (const number of this.marked?.numbers ?? []) this.spoken.utterances.get(number)?.classList.add("alike"); }

  #unmark() {
    for (const number of this.marked?.numbers ?? []) this.spoken.utterances.get(number)?.classList.remove("alike");
    this.marked = null;
  }
}

function tell(card, { unassigned, share }) {
  card.querySelector("#unassigned").hidden = unassigned === 0;
  card.querySelector("#all-assigned").hidden = unassigned !== 0;
  card.querySelector("#unassigned-n").textContent = unassigned === 1 ? "1 utterance has" : `${unassigned} utterances have`;
  card.querySelector("#unassigned-share").textContent = share;
}
