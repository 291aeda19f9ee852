// One <audio> that plays a recording as a chain of pieces, none longer than a minute, over what may be heard.
const LONGEST_MS = 60000;
const SHORTEST_MS = 20000;

/** "0-12000,15000-90000" as [[0, 12000], [15000, 90000]]. */
export function parse(text) {
  return text.split(",").filter(Boolean).map((pair) => pair.split("-").map(Number));
}

/** Stretches cut into pieces of a minute at most, at one of `breaks` (starts of utterances, in order) where that is possible. */
export function cut(stretches, breaks = []) {
  const pieces = [];
  for (const [from, to] of stretches) {
    let start = from;
    while (to - start > LONGEST_MS) {
      const good = breaks.filter((b) => b > start + SHORTEST_MS && b <= start + LONGEST_MS).pop();
      const end = good ?? start + LONGEST_MS;
      pieces.push([start, end]);
      start = end;
    }
    if (to > start) pieces.push([start, to]);
  }
  return pieces;
}

/** Index of the last entry of `sorted` that is <= value, or -1. */
export function lastBefore(sorted, value) {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] <= value) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

export class Player extends EventTarget {
  constructor() {
    super();
    this.audio = new Audio();
    this.audio.preload = "none";
    this.pieces = [];
    this.at = -1; // index of the piece that is loaded
    this.asked = 0; // where to start when a piece is ready, in ms of the recording
    this.audio.addEventListener("ended", () => this.#next());
    this.audio.addEventListener("play", () => { this.#say("state"); this.#follow(); });
    this.audio.addEventListener("pause", () => this.#say("state"));
    this.audio.addEventListener("timeupdate", () => this.#say("time"));
    this.audio.addEventListener("error", () => this.#say("trouble"));
  }

  use(address, pieces, start = pieces.length ? pieces[0][0] : 0) {
    this.audio.pause();
    this.address = address;
    this.pieces = pieces;
    this.at = -1;
    this.asked = start;
    this.#say("time");
  }

  /** How fast it plays, at the same pitch; 1 is as spoken. */
  get rate() { return this.audio.defaultPlaybackRate; }
  set rate(times) { this.audio.defaultPlaybackRate = this.audio.playbackRate = times; }

  get playing() { return !this.audio.paused && !this.audio.ended; }

  /** Now, in ms of the recording. */
  get now() {
    if (this.at < 0 || !this.audio.readyState) return this.asked;
    return this.pieces[this.at][0] + this.audio.currentTime * 1000;
  }

  async play() {
    if (this.at < 0) this.#load(this.asked);
    try {
      await this.audio.play();
    } catch (error) {
      if (error.name !== "AbortError") this.#say("trouble");
    }
  }

  pause() { this.audio.pause(); }
  toggle() { return this.playing ? this.pause() : this.play(); }

  /** Go to a time of the recording; a closed stretch is passed over. Keeps playing if it was. */
  seek(ms) {
    const going = this.playing;
    this.#load(ms);
    this.#say("time");
    if (going) this.play();
  }

  #load(ms) {
    let index = this.pieces.findIndex(([, end]) => ms < end);
    if (index < 0) index = this.pieces.length - 1;
    if (index < 0) return;
    const [start, end] = this.pieces[index];
    this.asked = Math.min(Math.max(ms, start), end);
    const offset = (this.asked - start) / 1000;
    if (index === this.at) {
      this.audio.currentTime = offset;
      return;
    }
    this.at = index;
    this.audio.src = `${this.address}${start}-${end}.wav`;
    if (offset > 0) this.audio.addEventListener("loadedmetadata", () => { this.audio.currentTime = offset; }, { once: true });
  }

  #next() {
    const next = this.at + 1;
    if (next < this.pieces.length) {
      this.#load(this.pieces[next][0]);
      this.play();
      return;
    }
    this.asked = this.pieces.length ? this.pieces[0][0] : 0;
    this.at = -1;
    this.#say("state");
    this.#say("finished");
  }

  #follow() {
    if (!this.playing) return;
    this.#say("time");
    requestAnimationFrame(() => this.#follow());
  }

  #say(what) { this.dispatchEvent(new Event(what)); }
}

/** Milliseconds as 0:07 or 1:02:05. */
export function clock(ms) {
  const s = Math.max(0, Math.floor(ms / 1000));
  const two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(s / 3600);
  return hours ? `${hours}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}` : `${Math.floor(s / 60)}:${two(s % 60)}`;
}

export const CANNOT_PLAY = "This cannot be played now. It may have been closed meanwhile: load the page again.";
