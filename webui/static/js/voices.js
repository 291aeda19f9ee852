// Who speaks, by keys: a digit assigns, Shift and the digit assign all that sound alike. For every page with words and a card of speakers.

/** What a key asks for: {digit, alike}, or null. By the key's place: with Shift a 1 is written otherwise on most keyboards. */
export function asked(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return null;
  const found = /^(?:Digit|Numpad)(\d)$/.exec(event.code);
  return found ? { digit: found[1], alike: event.shiftKey && event.code.startsWith("Digit") } : null;
}

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

/**
 * Listen to digits. `card`: the section of speakers; `words`: the element that holds the utterances (data-u);
 * `here()`: the utterances that a key is for, as elements; `done(elements, code, label)`: told what was assigned.
 */
export function speakersByKey(card, words, here, done) {
  const people = new Map([...card.querySelectorAll("[data-key]")].map((item) => [item.dataset.key, item.dataset]));
  const token = card.querySelector("[name=csrf_token]").value;
  const said = document.getElementById("speakers-said"); // near the sound: the card may be out of sight
  let marked = null; // {digit, elements}: what sounds alike and waits for the same keys again
  let busy = false;

  function unmark() {
    for (const element of marked?.elements ?? []) element.classList.remove("alike");
    marked = null;
  }

  async function give(elements, person) {
    const numbers = elements.map((element) => Number(element.dataset.u));
    const answer = await assign(card.dataset.assign, token, numbers, person.code);
    tell(card, answer);
    done(elements, person.code, person.label);
    said.textContent = `${person.label}: ${numbers.length} ${numbers.length === 1 ? "utterance" : "utterances"}.`;
  }

  async function mark(digit, first) {
    if (!card.dataset.heard) { said.textContent = "Our own computer has not compared the voices here yet."; return; }
    const numbers = new Set(await alike(card.dataset.alike, first.dataset.u));
    const elements = [first, ...[...words.querySelectorAll("[data-u]")].filter((e) => numbers.has(Number(e.dataset.u)))];
    for (const element of elements) element.classList.add("alike");
    marked = { digit, elements };
    said.textContent = numbers.size
      ? `${numbers.size} more sound like this one and are marked. Listen to them; the same keys again assign all ${elements.length}. Escape: none.`
      : "Nothing else surely sounds like this one. The same keys again assign it alone.";
  }

  async function press(wanted, person) {
    if (wanted.alike && marked?.digit === wanted.digit) {
      const { elements } = marked;
      unmark();
      await give(elements, person);
      return;
    }
    unmark();
    const chosen = here();
    if (!chosen.length) { said.textContent = "Play, or click a word, and press the digit again."; return; }
    if (wanted.alike) await mark(wanted.digit, chosen[0]);
    else await give(chosen, person);
  }

  document.addEventListener("keydown", async (event) => {
    if (event.key === "Escape" && marked) { unmark(); said.textContent = "Nothing was assigned."; return; }
    if (event.target.closest("input, select, textarea, [contenteditable]")) return;
    const wanted = asked(event);
    const person = wanted && people.get(wanted.digit);
    if (!person || busy) return;
    event.preventDefault();
    busy = true;
    try { await press(wanted, person); } catch (error) { said.textContent = error.message; }
    busy = false;
  });
}

function tell(card, { unassigned, share }) {
  card.querySelector("#unassigned").hidden = unassigned === 0;
  card.querySelector("#all-assigned").hidden = unassigned !== 0;
  card.querySelector("#unassigned-n").textContent = unassigned === 1 ? "1 utterance has" : `${unassigned} utterances have`;
  card.querySelector("#unassigned-share").textContent = share;
}
