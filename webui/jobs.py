"""A job as pages show it, in words."""

from __future__ import annotations

from typing import Any

from flask import url_for

from archive.app import JobRow, phrases

OVER = {"done", "failed", "stopped", "cancelled"}


def in_words(job: JobRow) -> dict[str, Any]:
    """Everything that a row of the list, or a job's own page, shows. `page`: where a job has one of its own."""
    return {
        "id": job.id, "subject": job.subject, "name": phrases.work(job.kind, job.subject), "state": job.state, "words": phrases.plainly(job.words), "percent": job.percent,
        "left": _left(job.state, job.left_s), "left_s": job.left_s, "over": job.state in OVER, "idle": job.idle,
        "page": url_for("exhibition.exported", number=job.id) if job.kind == "export" else "",
    }  # fmt: skip


def in_all(rows: list[dict[str, Any]]) -> str:
    """How much work is left; "" where it is not known of each."""
    known = [r["left_s"] for r in rows if r["state"] != "paused"]
    return phrases.about(sum(known)) if known and None not in known else ""


def _left(state: str, seconds: int | None) -> str:
    if seconds is None:
        return ""
    return f"{phrases.about(seconds)} left" if state == "working" else f"{phrases.about(seconds)} of work"
