// Progress of work, asked for every three seconds while the page is looked at and something is under way.
const list = document.getElementById("jobs");
const EVERY_MS = 3000;

function put(row, name, text) {
  const place = row.querySelector(name);
  if (place && place.textContent !== text) place.textContent = text;
}

async function look() {
  if (document.visibilityState === "visible") {
    try {
      const answer = await fetch(list.dataset.json, { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(String(answer.status));
      const jobs = await answer.json();
      document.getElementById("asleep").textContent = "";
      const known = new Set([...list.querySelectorAll("[data-job]")].map((row) => row.dataset.job));
      for (const job of jobs) {
        const row = list.querySelector(`[data-job="${job.id}"]`);
        const ended = row && job.over && row.querySelector("progress");
        if (!known.has(String(job.id)) || ended) { location.reload(); return; }
        put(row, ".job-state", job.state);
        put(row, ".job-left", job.left);
        put(row, ".job-words", job.words);
        put(row, ".job-percent", `${job.percent} %`);
        const bar = row.querySelector("progress");
        if (bar) bar.value = job.percent;
      }
      if (jobs.every((job) => job.over)) return;
    } catch {
      document.getElementById("asleep").textContent = "The archive does not answer. What you see may be old; load the page again.";
    }
  }
  setTimeout(look, EVERY_MS);
}

if (list) setTimeout(look, EVERY_MS);
