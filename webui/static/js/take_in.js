// Sends files in pieces, each with its sum. What the server has is not sent again; a lost connection is waited for.
import { Sum, sumOf } from "./sha256.js";

const PIECE = 8 * 1024 * 1024; // archive/domain/pieces.py
const AT_ONCE = 2; // pieces under way: the archive sums one while another arrives
const LONGEST_WAIT_S = 15;
const LOOK_MS = 3000;
const form = document.getElementById("send");
const going = document.getElementById("going");
const hold = document.getElementById("hold");
const summary = document.getElementById("together");
const spoken = document.getElementById("spoken");
const token = form.querySelector("[name=csrf_token]").value;
const wait = (ms) => new Promise((done) => setTimeout(done, ms));
const waiting = new Map(); // key → row, of what the server takes in
let busy = 0;
let held = null; // a promise and its end, while somebody paused

class Told extends Error {} // the server said no, in words for a person
class Other extends Told {} // another file of the same name was begun

function megabytes(bytes) { return `${(bytes / 1e6).toFixed(bytes < 1e8 ? 1 : 0)} MB`; }

function lasting(seconds) { return seconds < 90 ? `about ${Math.max(5, Math.ceil(seconds / 5) * 5)} seconds left` : `about ${Math.round(seconds / 60)} minutes left`; }

function row(name) {
  const item = document.createElement("li");
  item.className = "row";
  const title = document.createElement("h3");
  title.textContent = name;
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", name);
  const words = document.createElement("p");
  words.className = "sending";
  item.append(title, bar, words);
  going.append(item);
  // `aloud`: something a listener should hear; how many pieces are gone is only written
  const say = (text, aloud = true) => { words.textContent = text; if (aloud) spoken.textContent = `${name}: ${text}`; };
  return { item, bar, words, say };
}

// One request, asked again until there is an answer. `say` tells of a lost connection, and of its return.
async function ask(path, body, headers, say) {
  for (let n = 0; ; n++) {
    let answer = null;
    try { answer = await fetch(path, { method: "POST", body, headers: { "X-CSRFToken": token, ...headers } }); } catch { /* no connection */ }
    if (answer?.ok) return answer.json();
    if (answer && ![500, 502, 503, 504].includes(answer.status)) {
      const text = await answer.text();
      if (answer.status === 401 || answer.redirected) throw new Told("You are signed out. Sign in again and choose the same file: it goes on where it was.");
      if (text.startsWith("This piece did not arrive") && n < 5) continue;
      throw new (answer.status === 409 ? Other : Told)(text.startsWith("<") ? "It was refused. Load the page again and choose the same file." : text);
    }
    const seconds = Math.min(LONGEST_WAIT_S, 2 ** n);
    say(`No connection to the archive. Trying again in ${seconds} s; what arrived is kept.`, n === 0);
    await Promise.race([wait(seconds * 1000), new Promise((back) => addEventListener("online", back, { once: true }))]);
  }
}

function fields(values) { return new URLSearchParams(values); }

async function piece(file, n) { return new Uint8Array(await file.slice(n * PIECE, (n + 1) * PIECE).arrayBuffer()); }

async function send(file, shown, interview, batch, anew = false) {
  const { bar, say } = shown;
  const count = Math.ceil(file.size / PIECE);
  bar.max = count;
  bar.value = 0;
  say("Being read.");
  const first = count ? await sumOf(await piece(file, 0)) : "";
  const begun = { name: file.name, bytes: file.size, first, modified: Math.max(0, Math.round(file.lastModified)), interview, batch, ...(anew ? { anew: "yes" } : {}) };
  const { key, here } = await ask(form.dataset.begin, fields(begun), {}, say);
  const base = `${form.dataset.begin.replace(/begin\.json$/, "")}${key}/`;
  const before = Object.keys(here).length;
  bar.value = before;
  if (before) say(`Going on: ${before} of ${count} pieces are here already.`);
  const whole = new Sum();
  const started = performance.now();
  let sent = 0;
  const read = async (n) => {
    const bytes = await piece(file, n);
    whole.add(bytes);
    return { bytes, sum: await sumOf(bytes) };
  };
  let next = read(0);
  let done = before;
  const flying = new Set();
  const fly = async (n, { bytes, sum }) => {
    await ask(`${base}${n}.json`, bytes, { "Content-Type": "application/octet-stream", "X-Piece-Sum": sum }, say);
    sent += bytes.length;
    bar.value = done += 1;
    const left = ((count - done) * PIECE) / (sent / ((performance.now() - started) / 1000));
    say(`Sent ${megabytes(Math.min(file.size, done * PIECE))} of ${megabytes(file.size)}${left ? `, ${lasting(left)}` : ""}.`, false);
  };
  for (let n = 0; n < count; n++) {
    if (held) { await Promise.all(flying); say("Paused. What arrived is kept."); await held.over; say("Going on."); }
    const now = await next;
    if (n + 1 < count) { next = read(n + 1); next.catch(() => {}); } // summed while others are sent; its fault is met when it is its turn
    if (here[n] && here[n] !== now.sum) throw new Other();
    if (here[n]) continue;
    while (flying.size >= AT_ONCE) await Promise.race(flying);
    const one = fly(n, now);
    flying.add(one);
    one.then(() => flying.delete(one), () => {}); // a refused one stays, and is met by who waits for all
  }
  await Promise.all(flying);
  const { missing } = await ask(`${base}whole.json`, fields({ sum: whole.hex() }), {}, say);
  if (missing.length) throw new Told(`${missing.length} pieces are missing. Choose the same file again: only they are sent.`);
  say("All here.");
  waiting.set(key, shown);
}

async function one(file, interview, batch) {
  const shown = row(file.name);
  try {
    try { await send(file, shown, interview, batch); } catch (error) {
      if (!(error instanceof Other)) throw error;
      shown.say("Another file of this name was begun before; this one is sent from its beginning.");
      await send(file, shown, interview, batch, true);
    }
  } catch (error) {
    // a file that cannot be read: the card was pulled out, or the file changed meanwhile
    shown.say(error instanceof Told ? error.message : "This file cannot be read any more: the card was taken out, or the file changed. Put it back and choose the same file: it goes on where it was.");
    shown.item.classList.add("stopped");
  }
}

async function takeIn(batch) {
  const say = (text) => { summary.textContent = spoken.textContent = text; };
  try {
    const { waits_for: missing } = await ask(form.dataset.together, fields({ batch }), {}, say);
    say(missing ? `${missing === 1 ? "One file is" : `${missing} files are`} not here yet. Choose the same files again: then all are taken in together. Or take in what is here, below, after loading this page again.` : "Our own computer checks and measures what came.");
  } catch (error) { say(error instanceof Told ? error.message : "It could not be asked for. Load the page again."); }
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const files = [...document.getElementById("files").files];
  const interview = document.getElementById("interview").value.trim();
  if (!files.length) { spoken.textContent = "Choose files first."; document.getElementById("files").focus(); return; }
  form.querySelector("#files").value = "";
  busy += 1;
  hold.hidden = false;
  // what is chosen together is one card: it is taken in when all of it is here
  const batch = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  for (const file of files) await one(file, interview, batch);
  await takeIn(batch);
  busy -= 1;
  hold.hidden = !busy;
});

hold.addEventListener("click", () => {
  if (held) { held.end(); held = null; } else { held = {}; held.over = new Promise((end) => { held.end = end; }); }
  hold.textContent = held ? "Go on" : "Pause";
});

async function look() {
  if (waiting.size) {
    try {
      const answer = await fetch(form.dataset.list, { headers: { Accept: "application/json" } });
      if (answer.ok && !answer.redirected) for (const sent of await answer.json()) {
        const shown = waiting.get(sent.key);
        if (!shown || sent.state === "whole") continue;
        waiting.delete(sent.key);
        shown.say(sent.words || "Done.");
        if (sent.recording) {
          const link = document.createElement("a");
          link.href = `${form.dataset.recordings}/${encodeURIComponent(sent.recording)}`;
          link.textContent = `Open ${sent.recording}`;
          shown.item.append(link);
        } else shown.item.classList.add("stopped");
      }
    } catch { /* asked again below */ }
  }
  setTimeout(look, LOOK_MS);
}

addEventListener("beforeunload", (event) => { if (busy) event.preventDefault(); });
form.hidden = false;
look();
