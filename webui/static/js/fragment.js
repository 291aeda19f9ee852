// The time of a media fragment (W3C, Media Fragments URI 1.0 §4.2.1): "#t=3,7" in seconds, as normal play time.
const TIME = /^(?:(?:(\d+):)?([0-5]\d):([0-5]\d(?:\.\d*)?)|(\d+(?:\.\d*)?))$/;

function seconds(text) {
  const match = TIME.exec(text);
  if (!match) return null;
  const [, hours, minutes, rest, whole] = match;
  return whole === undefined ? Number(hours ?? 0) * 3600 + Number(minutes) * 60 + Number(rest) : Number(whole);
}

function decoded(text) {
  try { return decodeURIComponent(text); } catch { return null; }
}

/** [start, end] in seconds of what a fragment asks for, `end` at most `length`; null where it asks for no time, or not validly. */
export function timed(fragment, length) {
  let found = null;
  for (const pair of fragment.replace(/^#/, "").split("&")) {
    const at = pair.indexOf("=");
    if (at < 0 || decoded(pair.slice(0, at)) !== "t") continue;
    found = decoded(pair.slice(at + 1)); // the last one counts
  }
  if (found === null) return null;
  const [from, to, ...more] = found.replace(/^npt:/, "").split(",");
  if (more.length || (from === "" && to === undefined) || to === "") return null;
  const start = from === "" ? 0 : seconds(from);
  const end = to === undefined ? length : seconds(to);
  if (start === null || end === null || start >= end || start >= length) return null;
  return [start, Math.min(end, length)];
}
