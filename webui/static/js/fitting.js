// Typed words put to the sound by our own computer: a job, after which the lines have other times and the same words.
const LOOK_MS = 1500;

/** Ask for these lines (none: all that this person changed), say how long it takes, and show the new times. */
export async function putToSound(some, desk) {
  const { place, keep, send, tell } = desk;
  await keep();
  const asked = await send({ act: "fit", keys: some.map((l) => l.key) });
  if (asked.refused) { tell(asked.refused); return; }
  const started = performance.now();
  for (let state = asked; state.open; ) {
    tell(`Our own computer listens for these words … ${Math.round((performance.now() - started) / 1000)} s`);
    await new Promise((done) => setTimeout(done, LOOK_MS));
    const response = await fetch(place).catch(() => null);
    if (response?.ok) state = await response.json();
    if (!state.open) { await renewTimes(some, desk); tell(state.words); }
  }
}

/** The lines as they stand now, whose words are the same and whose times may be others. */
async function renewTimes(some, { list, lines, keep }) {
  await keep();
  const reach = some.length ? some : lines.all;
  const response = await fetch(`${list}?from=${Math.min(...reach.map((l) => l.start_ms))}&to=${Math.max(...reach.map((l) => l.end_ms))}`);
  if (!response.ok) return;
  for (const now of (await response.json()).lines) {
    const old = lines.all.find((l) => !l.dirty && !l.closed && l.key !== now.key && Math.min(l.end_ms, now.end_ms) > Math.max(l.start_ms, now.start_ms) && l.speaker_code === now.speaker_code && l.text === now.words.map(([word]) => word).join(" "));
    if (old) lines.renew(old, now, old.text);
  }
}
