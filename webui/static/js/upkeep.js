// Progress of work, asked for every three seconds while the page is looked at. Numbers and words change in place; where the
// list itself has changed (a job came, ended, moved or was paused), the page says so and offers to be loaded again. The page of one
// job that somebody waits for is loaded anew by itself.
const list = document.getElementById("jobs");
const EVERY_MS = 3000;

function put(row, name, text) {
  const place = row.querySelector(name);
  if (place && place.textContent !== text) place.textContent = text;
}

function changed(jobs) {
  const here = [...list.querySelectorAll("[data-job]")].map((row) => `${row.dataset.job} ${row.querySelector(".job-state").dataset.was}`);
  const there = jobs.map((job) => `${job.id} ${job.state}`);
  return here.join() !== there.join();
}

function say(text, again) {
  const place = document.getElementById("asleep");
  if (place.dataset.said === text) return;
  place.dataset.said = text;
  place.textContent = text;
  if (again) {
    const link = document.createElement("a");
    link.href = location.pathname;
    link.textContent = "Show the list as it is now";
    place.append(" ", link);
  }
}

async function look() {
  if (document.visibilityState === "visible") {
    try {
      const answer = await fetch(list.dataset.json, { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(String(answer.status));
      const all = await answer.json();
      for (const job of all) {
        const row = list.querySelector(`[data-job="${job.id}"]`);
        if (!row) continue;
        put(row, ".job-state", job.state);
        put(row, ".job-left", job.left);
        put(row, ".job-words", job.words);
        put(row, ".job-percent", `${job.percent} %`);
        const bar = row.querySelector("progress");
        if (bar) bar.value = job.percent;
        if (job.over) row.querySelector(".job-acts")?.remove();
      }
      if (!changed(all.filter((job) => !job.over))) say("", false);
      else if (list.dataset.then === "load") location.reload();
      else say("The list has changed.", true);
    } catch {
      say("The archive does not answer. What you see may be old; load the page again.", false);
    }
  }
  setTimeout(look, EVERY_MS);
}

for (const state of list.querySelectorAll(".job-state")) state.dataset.was = state.textContent;
setTimeout(look, EVERY_MS);
