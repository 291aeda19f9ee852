"""Recordings: the list, and one recording with its sound, words, speakers, suggestions and excerpts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask_login import current_user
from werkzeug.wrappers import Response

from archive.app import TRANSCRIPT_FORMS, SpeakingPage, phrases
from archive.domain.values import MIN_WORD_MS
from archive.errors import BadInput, NotFaithful
from webui import drawing, testimony
from webui.allowed import may_call
from webui.desk import archive, chosen_word, day_of, viewer, whole_number
from webui.sound import in_ranges

views = Blueprint("recordings", __name__)
MOST_ON_PAGE = 100  # suggestions, and names that wait


@views.get("/recordings")
def all_of_them() -> str:
    """Every recording this viewer may know of, with its state."""
    return render_template("recordings.html", rows=archive().recordings.list(viewer()))


@views.get("/recordings/<code>")
def one(code: str) -> str:
    """One recording; `?from=MS` starts there, `?speakers=all` offers the speaker of every utterance, `?passages=cut` shows where
    passages begin, to split and to join them."""
    return _page(code, opened=False)


@views.post("/recordings/transcribe")
def transcribe() -> Response:
    """Let our own computer listen to one recording, or to all that nobody had transcribed yet."""
    code = request.form.get("recording", "")
    queued, refused = archive().transcribing.queue(viewer(), code)
    waits = phrases.many(queued, "recording waits", "recordings wait")
    told = [f"{waits} to be transcribed; Upkeep says how far the work is."] if queued or not refused else []
    told += [f"{name} is not transcribed: {' '.join(reasons)}" for name, reasons in refused]
    flash(" ".join(told))
    return redirect(url_for("recordings.one", code=code) if code else url_for("recordings.all_of_them"), 303)


@views.post("/recordings/<code>/open")
def open_closed(code: str) -> str:
    """Put on record why a keeper reads closed speech, then show it once, as the answer to this very request."""
    archive().recordings.open_closed(viewer(), code, request.form.get("reason", ""))
    return _page(code, opened=True)


@views.post("/recordings/<code>/seal")
def seal(code: str) -> Response:
    """Close a stretch, through a day or until an event, or until a keeper opens it."""
    form = request.form
    start_ms, end_ms = phrases.clock_ms(form.get("starts", "")), phrases.clock_ms(form.get("ends", ""))
    until, event = day_of(form.get("until", "")), form.get("event", "")[:400]
    archive().consent.seal(viewer(), code, start_ms, end_ms, form.get("how", "")[:400], until, event)
    flash(f"{phrases.begin(phrases.closed_through(until, event.strip()))}.")
    return redirect(url_for("recordings.one", code=code, _anchor="closed-h"), 303)


@views.get("/recordings/<code>/sound/<int:start_ms>-<int:end_ms>.wav")
def sound(code: str, start_ms: int, end_ms: int) -> Response:
    """A stretch that this viewer may hear, or an error in words."""
    return in_ranges(archive().recordings.sound(viewer(), code, start_ms, end_ms))


@views.post("/recordings/<code>/speakers")
def speakers(code: str) -> Response:
    """Set who speaks in the utterances named u<id>; an empty answer leaves one unassigned."""
    chosen = {
        whole_number(name[1:]): value
        for name, value in request.form.items()
        if name.startswith("u") and name[1:].isdecimal() and value != "leave"
    }
    number = archive().recordings.assign(viewer(), code, chosen)
    flash(f"Speakers set for {number} of the utterances." if number else "No speaker was changed.")
    return redirect(url_for("recordings.one", code=code), 303)


@views.post("/recordings/<code>/suggestions/<int:tag_id>")
def suggestion(code: str, tag_id: int) -> Response:
    """Confirm or reject a suggestion, or make it one again."""
    decision = request.form.get("decision", "")
    archive().describing.decide(viewer(), tag_id, decision)
    flash({"confirmed": "Confirmed.", "rejected": "Rejected."}.get(decision, "It is a suggestion again."))
    return redirect(url_for("recordings.one", code=code, _anchor="suggestions"), 303)


@views.post("/recordings/<code>/passages")
def cut(code: str) -> Response:
    """Split a passage before an utterance, join one with the one before it, or take the newest cut by hand back."""
    form = request.form
    at_ms, what, utterance = whole_number(form.get("from", "0")), form.get("do", ""), whole_number(form.get("utterance", "0"))
    if what == "undo":
        done = archive().cutting.undo(viewer(), code)
        flash("The two passages are one again." if done == "split" else "They are two passages again.")
    elif what in ("split", "join"):
        change = archive().cutting.split if what == "split" else archive().cutting.join
        change(viewer(), code, utterance)
        flash("A passage begins here now." if what == "split" else "The two are one passage now.")
    else:
        raise BadInput("A passage can be split or joined.", "Load the page again.")
    here: dict[str, Any] = {"from": at_ms}
    return redirect(url_for("recordings.one", code=code, passages="cut", _anchor=f"edge{utterance}" if utterance else "here", **here), 303)


@views.post("/recordings/<code>/names")
def name(code: str) -> Response:
    """Decide about a name that is spoken here."""
    start_ms, end_ms = whole_number(request.form.get("start_ms", "")), whole_number(request.form.get("end_ms", ""))
    archive().naming.decide(
        viewer(), code, start_ms, end_ms, request.form.get("person", ""),
        request.form.get("decision", ""), request.form.get("how", "")[:400], waiting=True,
    )  # fmt: skip
    flash("The decision about this name is on record.")
    return redirect(url_for("recordings.one", code=code, _anchor="names"), 303)


@views.post("/recordings/<code>/excerpt")
def excerpt(code: str) -> Response | tuple[str, int]:
    """Choose an excerpt: by its first and last word ("utterance:word"), or by its wording."""
    form = request.form
    use, panel, note = form.get("use", ""), form.get("panel", "")[:200], form.get("note", "")[:1000]
    try:
        if form.get("first") and form.get("last"):
            (u1, w1), (u2, w2) = chosen_word(form["first"]), chosen_word(form["last"])
            made = archive().excerpts.choose_words(viewer(), code, u1, w1, u2, w2, use, panel, note)
        else:
            made = archive().excerpts.choose(viewer(), code, form.get("quote", ""), use, panel, note)
    except NotFaithful as refused:
        return _page(code, opened=False, refused=refused), refused.status
    flash(f"{made} is chosen.")
    return redirect(url_for("exhibition.chosen", _anchor=made), 303)


@views.post("/recordings/<code>/sound-check")
def measure_again(code: str) -> Response:
    """Let the sound be measured anew."""
    archive().sound_check.queue(viewer(), code)
    flash("The sound waits to be measured again; it is in the list of work under Upkeep.")
    return redirect(url_for("recordings.one", code=code, _anchor="sound-check"), 303)


def _translated(utterances: Iterable[Any], found: Iterable[Any]) -> dict[int, list[Any]]:
    """utterance id → the translations that stand under it: under the one in which they end."""
    under: dict[int, list[Any]] = {}
    lines = list(utterances)
    for one in found:
        end = next((u.utterance_id for u in lines if u.start_ms < one.end_ms <= u.end_ms + MIN_WORD_MS), None)
        if end is not None:
            under.setdefault(end, []).append(one)
    return under


def _in_words(code: str, utterances: Sequence[Any], translations: Iterable[Any]) -> dict[str, object]:
    """What stands in and under words: their language, words of the glossary, translations."""
    return {
        "spoken": archive().languages.of(viewer(), code), "glossed": archive().glossary.marked(viewer(), utterances),
        "translated": _translated(utterances, translations),
    }  # fmt: skip


def _page(code: str, opened: bool, refused: NotFaithful | None = None) -> str:
    start_ms = min(max(0, request.args.get("from", 0, type=int)), phrases.MOST_MS)
    page = archive().recordings.page(viewer(opened=opened), code, None if opened else start_ms)
    shown = page.shown
    # What is opened for one reading is read, not played: sound is fetched later, by requests that opened nothing.
    heard_page = archive().recordings.page(viewer(), code, start_ms) if opened else page
    heard = heard_page.shown
    playable = [(p.start_ms, p.end_ms) for p in heard.playable]
    may_assign = may_call("voices.assign", current_user.role) and page.people and shown.utterances
    speaking = archive().speaking.page(viewer(), code) if may_assign else None
    return render_template(
        "recording.html",
        page=page,
        row=page.row,
        shown=shown,
        start_ms=start_ms,
        opened=opened,
        refused=refused,
        speaking=speaking,
        playable=testimony.stretches(playable),
        breaks=" ".join(str(u.start_ms) for u in shown.utterances),
        wave=drawing.wave_path(heard.peaks),
        silent_bars=drawing.bars([(s, e, "") for s, e in drawing.gaps(playable, shown.duration_ms)], shown.duration_ms),
        lanes=drawing.lanes(
            [(u.speaker or "not known yet", u.start_ms, u.end_ms) for u in shown.utterances if not u.closed],
            shown.duration_ms,
        ),
        check=heard_page.sound,
        marks=drawing.marks(heard_page.sound.problems if heard_page.sound else (), shown.duration_ms),
        ticks=drawing.ticks(shown.duration_ms),
        estimate=phrases.SOUND_ESTIMATE,
        waiting=[t for t in page.tags if t.state == "suggested"],
        decided=[t for t in page.tags if t.state != "suggested"],
        most=MOST_ON_PAGE,
        uses=archive().uses(),
        came_with=archive().recordings.came_with(viewer(), code) if may_call("recordings.name", current_user.role) else ((), ()),
        transcript_forms=TRANSCRIPT_FORMS,
        models=archive().speech_models() if may_call("correcting.again", current_user.role) else None,
        own_model=archive().settings.model,
        form=request.form,
        **_beside(shown.utterances, page.people, speaking, start_ms),
        **_passages(code),
        **_in_words(code, shown.utterances, page.translations),
    )


def _beside(
    utterances: Sequence[testimony.Utterance], people: Sequence[tuple[str, str]], speaking: SpeakingPage | None, start_ms: int
) -> dict[str, object]:
    """What stands beside words: who may be chosen as speaker, what a voice sounds like, and where to begin."""
    return {
        "here": next((u.utterance_id for u in utterances if u.end_ms > start_ms), None) if start_ms else None,
        "people": people, "sounds_like": {s.utterance_id: s for s in speaking.suggestions} if speaking else {},
        "all_speakers": request.args.get("speakers") == "all", "words": testimony.words,
    }  # fmt: skip


def _passages(code: str) -> dict[str, object]:
    """Where passages begin, for those who cut them by hand: `cuts` (None: not asked for), and by utterance."""
    asked = request.args.get("passages") == "cut" and may_call("recordings.cut", current_user.role)
    cuts = archive().cutting.passages(viewer(), code) if asked else None
    return {"cuts": cuts, "begins": {p.utterance_id: p for p in cuts.rows} if cuts is not None else {}, "row_code": code}


@views.get("/recordings/<code>/words/<shape>/<int:part>")
def words(code: str, shape: str, part: int) -> str:
    """One part of a long transcript, as markup for the recording's page."""
    some = archive().recordings.part(viewer(), code, shape, part)
    speaking = archive().speaking.page(viewer(), code) if may_call("voices.assign", current_user.role) else None
    people = tuple((p.code, p.role) for p in speaking.people) if speaking else ()
    translations = [row.shown for row in archive().translating.list(viewer(), code)]
    return render_template("utterances.html", some=some, **_beside(some, people, speaking, 0), **_passages(code), **_in_words(code, some, translations))


@views.get("/recordings/<code>/waiting")
def waiting(code: str) -> str:
    """Every name and suggestion of a recording, so many at a time."""
    first = min(max(0, request.args.get("first", 0, type=int)), phrases.MOST_MS)
    found = archive().recordings.waiting(viewer(), code, first, MOST_ON_PAGE)
    more = max(found.names_waiting, found.tags_count) > first + MOST_ON_PAGE
    return render_template(
        "waiting.html", row=found, names=found.names, names_waiting=found.names_waiting, tags=found.tags, tags_count=found.tags_count,
        first=first, most=MOST_ON_PAGE, more=more,
    )  # fmt: skip
