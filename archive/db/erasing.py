"""Taking somebody's speech, or a person, out of the database: every table that holds or points to it, in the caller's transaction.

What stays are numbers: emptied rows of recordings, excerpts, translations and people, so that codes are never given twice and the register
still says what went where. Words themselves are deleted through the gate (gate/erased.py). tests/db/test_erasing.py wants it said of every
column that can hold text what becomes of it here.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, and_, case, delete, func, or_, select, text, update

from archive.db import likeness, themes, units
from archive.db.facts import bump_consent
from archive.db.tables import (
    account_reach,
    agreement,
    approval,
    audit,
    audit_detail,
    chunk,
    companion,
    conflict,
    contact,
    edit,
    event,
    excerpt,
    export,
    export_item,
    field_note,
    finding,
    form,
    heard,
    interpreted_check,
    interview,
    job,
    kept_item,
    listened,
    master,
    measurement,
    mention,
    metadata,
    objection,
    objection_hold,
    origin,
    participation,
    passage_by_hand,
    permission,
    person,
    person_name,
    place,
    place_name,
    question,
    question_seen,
    recording,
    release,
    restraint,
    review_answer,
    review_item,
    review_sheet,
    risk,
    run,
    second_copy,
    signed_paper,
    sitting,
    speaks_for,
    spelling,
    spoken_by,
    spoken_language,
    tag,
    tag_decision,
    task,
    theme,
    translation,
    upload,
    upload_piece,
    version,
    voicing,
    voicing_person,
    wish,
    work,
    work_clearance,
)
from archive.domain.erasing import Times, folded, in_data, in_text, moved, names_any, tokens, touches
from archive.domain.quoting import wording_of_later
from archive.domain.translating import State as Translated
from archive.domain.values import Decision, Scan

NOTHING = "0" * 64  # in place of a checksum of words that are gone
# Text that the team typed, about anybody: names of an erased person are taken out of it wherever it stands.
SCRUBBED: Mapping[str, tuple[str, ...]] = {
    "person": ("note",), "interview": ("title",), "recording": ("original_name", "title"), "finding": ("source_name", "words"),
    "field_note": ("who", "where", "when", "with_what", "in_the_room", "remarks", "written_by"),
    "origin": ("originator", "description", "notes", "doubt"), "companion": ("name",), "upload": ("name", "words", "interview"),
    "run": ("vocabulary", "options"), "tag": ("about", "reckoning"), "mention": ("how", "instead"),
    "glossary": ("source", "note", "meanings", "word"), "agreement": ("basis", "note", "taken_by"), "permission": ("conditions",),
    "restraint": ("event", "how"), "release": ("reason",), "risk": ("words",), "excerpt": ("panel", "note"), "review_answer": ("later",), "export": ("folder",),
    "spoken_by": ("credit",), "placement": ("where",), "job": ("subject", "args", "words", "outcome"), "kept_list": ("name",),
    "kept_item": ("note",), "erasure": ("reason",), "task": ("what", "note"), "objection": ("how", "reason"), "speaks_for": ("papers",), "work": ("about",), "contact": ("called", "address", "how"), "work_clearance": ("basis",), "second_copy": ("trouble",), "master": ("trouble",),
}  # fmt: skip
_EXCUSED_LISTS = ((place, "name", "the place"), (theme, "name", "the theme"), (event, "name", "the event"))


@contextmanager
def guards_open(connection: Connection) -> Iterator[None]:
    """The triggers of what is only ever added to stand open inside this block alone; a rollback closes them too."""
    connection.execute(text("PRAGMA defer_foreign_keys = ON"))
    connection.execute(text("INSERT INTO fact (key, value) VALUES ('erasing', '1')"))
    yield
    connection.execute(text("DELETE FROM fact WHERE key = 'erasing'"))


# --- what lies on the disk, read before its rows go -------------------------------------------------------------------


def files_of(connection: Connection, recording_id: int) -> dict[str, list[str]]:
    """Files that belong to a recording alone: `companions` (sums) and `uploads` (keys)."""
    sum_ = connection.execute(select(master.c.sha256).join(recording, recording.c.master_id == master.c.id).where(recording.c.id == recording_id)).scalar_one()
    others = select(companion.c.sha256).where(companion.c.recording_id != recording_id)
    mine = select(companion.c.sha256).where(companion.c.recording_id == recording_id, companion.c.sha256.not_in(others))
    sent = select(upload.c.key).where(or_(upload.c.recording_id == recording_id, upload.c.sha256 == sum_))
    return {"companions": list(connection.execute(mine).scalars()), "uploads": list(connection.execute(sent).scalars())}


def readings_of(connection: Connection, excerpt_ids: Collection[int]) -> list[str]:
    """Sums of the files in which somebody else reads these excerpts aloud."""
    return list(connection.execute(select(spoken_by.c.master_sha256).where(spoken_by.c.excerpt_id.in_(excerpt_ids)).distinct()).scalars())


def papers_of(connection: Connection, person_id: int) -> list[str]:
    """Sums of the scans of what a person signed, and nobody else with them."""
    theirs = _signed_by(person_id)
    shared = select(signed_paper.c.sha256).where(~theirs)
    query = select(signed_paper.c.sha256).where(theirs, signed_paper.c.sha256 != "", signed_paper.c.sha256.not_in(shared))
    return list(connection.execute(query.distinct()).scalars())


def _signed_by(person_id: int) -> ColumnElement[bool]:
    """A signed paper is this person's: by its agreement or, where none came of it, by the form whose code it bears."""
    papers = select(agreement.c.id).where(agreement.c.person_id == person_id)
    forms = select(form.c.id).where(form.c.person_id == person_id)
    by_form = and_(signed_paper.c.form_id.is_not(None), signed_paper.c.form_id.in_(forms))
    return case((signed_paper.c.agreement_id.is_not(None), signed_paper.c.agreement_id.in_(papers)), else_=by_form)


def exports_of(connection: Connection, excerpt_ids: Collection[int]) -> list[Any]:
    """Every export with any of these excerpts in it."""
    query = select(export).where(export.c.id.in_(select(export_item.c.export_id).where(export_item.c.excerpt_id.in_(excerpt_ids))))
    return list(connection.execute(query.order_by(export.c.id)))


def excerpts_of(connection: Connection, recording_id: int) -> list[Any]:
    """Every excerpt of a recording that is not emptied yet."""
    return [r for r in connection.execute(select(excerpt).where(excerpt.c.recording_id == recording_id).order_by(excerpt.c.id)) if r.spans]


# --- a recording, whole ----------------------------------------------------------------------------------------------


def recording_gone(connection: Connection, recording_id: int, at: str) -> None:
    """Empty a recording whose words went already: its code, its place in the interview and its master's checksum stay."""
    row = connection.execute(select(recording).where(recording.c.id == recording_id)).one()
    _forget_made_of(connection, recording_id)
    tags = select(tag.c.id).where(tag.c.recording_id == recording_id)
    _tags_gone(connection, set(connection.execute(tags).scalars()))
    _works_gone(connection, set(connection.execute(select(work.c.id).where(work.c.recording_id == recording_id)).scalars()))
    for table in (edit, sitting, spoken_language, listened, field_note, measurement, mention, kept_item, risk, finding, passage_by_hand, signed_paper):
        connection.execute(delete(table).where(table.c.recording_id == recording_id))
    connection.execute(update(origin).where(origin.c.beside_id == recording_id).values(beside_id=None, beside_ms=None))
    connection.execute(delete(origin).where(origin.c.recording_id == recording_id))
    _sent_gone(connection, recording_id)
    excerpts_gone(connection, [r.id for r in excerpts_of(connection, recording_id)], at)
    translations_gone(connection, recording_id, None)
    _versions_gone(connection, recording_id)
    _jobs_gone(connection, recording_id, row.code, at)
    _seen_gone(connection, recording_id)
    holds = select(restraint.c.id).where(restraint.c.recording_id == recording_id)
    connection.execute(update(task).where(task.c.restraint_id.in_(holds)).values(restraint_id=None))
    connection.execute(delete(objection_hold).where(objection_hold.c.restraint_id.in_(holds)))
    connection.execute(delete(release).where(release.c.restraint_id.in_(holds)))
    connection.execute(delete(restraint).where(restraint.c.recording_id == recording_id))
    connection.execute(delete(second_copy).where(second_copy.c.master_id == row.master_id))
    emptied = {"original_name": "", "title": "", "recorded_on": None, "left_person_id": None, "right_person_id": None, "duration_ms": 0, "erased_at": at}
    connection.execute(update(recording).where(recording.c.id == recording_id).values(**emptied))
    _interview_gone(connection, row.interview_id)
    bump_consent(connection)


def _forget_made_of(connection: Connection, recording_id: int) -> None:
    """Passages, find units with their tokens and vectors, what voices are like, what its decided passages taught elsewhere."""
    themes.forget_taught(connection, [recording_id])
    units.replace_passages(connection, recording_id, 0, ())
    likeness.forget(connection, [recording_id])
    connection.execute(delete(conflict).where(conflict.c.recording_id == recording_id))
    grounds = select(voicing.c.id).where(voicing.c.recording_id == recording_id)
    connection.execute(delete(voicing_person).where(voicing_person.c.voicing_id.in_(grounds)))
    connection.execute(delete(voicing).where(voicing.c.recording_id == recording_id))


def _tags_gone(connection: Connection, tag_ids: Collection[int]) -> None:
    connection.execute(delete(tag_decision).where(tag_decision.c.tag_id.in_(tag_ids)))
    connection.execute(delete(tag).where(tag.c.id.in_(tag_ids)))


def _works_gone(connection: Connection, work_ids: Collection[int]) -> None:
    connection.execute(delete(work_clearance).where(work_clearance.c.work_id.in_(work_ids)))
    connection.execute(delete(work).where(work.c.id.in_(work_ids)))


def _sent_gone(connection: Connection, recording_id: int) -> None:
    keys = files_of(connection, recording_id)["uploads"]
    sent = select(upload.c.id).where(upload.c.key.in_(keys))
    connection.execute(delete(upload_piece).where(upload_piece.c.upload_id.in_(sent)))
    connection.execute(delete(upload).where(upload.c.key.in_(keys)))
    connection.execute(delete(companion).where(companion.c.recording_id == recording_id))


def _versions_gone(connection: Connection, recording_id: int) -> None:
    """Versions that an excerpt pins stay as numbers."""
    pinned = select(excerpt.c.version_id).where(excerpt.c.recording_id == recording_id)
    mine = version.c.recording_id == recording_id
    connection.execute(update(version).where(mine).values(parent_id=None, run_id=None))
    connection.execute(delete(version).where(mine, version.c.id.not_in(pinned)))
    connection.execute(delete(run).where(run.c.recording_id == recording_id))


def _jobs_gone(connection: Connection, recording_id: int, code: str, at: str) -> None:
    """Jobs of a recording keep their numbers; what they heard, found and said goes. Open ones are over."""
    for row in list(connection.execute(select(job))):
        args = row.args if isinstance(row.args, dict) else {}
        if row.subject != code and args.get("recording") != recording_id and not names_any([args, row.outcome], {code}):
            continue
        over = {} if row.state not in ("waiting", "working", "paused") else {"state": "cancelled", "ended_at": at, "lease_token": None, "lease_until": None}
        connection.execute(delete(chunk).where(chunk.c.job_id == row.id))
        connection.execute(update(job).where(job.c.id == row.id).values(args={}, outcome={}, words="", **over))


def _seen_gone(connection: Connection, recording_id: int) -> None:
    for row in list(connection.execute(select(question_seen))):
        left = [{k: v for k, v in kept.items() if k != str(recording_id)} for kept in (row.seen, row.before)]
        if left != [row.seen, row.before]:
            this = and_(question_seen.c.question_id == row.question_id, question_seen.c.account == row.account)
            connection.execute(update(question_seen).where(this).values(seen=left[0], before=left[1]))


def _interview_gone(connection: Connection, interview_id: int | None) -> None:
    """An interview of which no recording is left is emptied too."""
    if interview_id is None:
        return
    left = select(func.count()).select_from(recording).where(recording.c.interview_id == interview_id, recording.c.erased_at.is_(None))
    if connection.execute(left).scalar_one():
        return
    connection.execute(update(interview).where(interview.c.id == interview_id).values(title="", held_on=None, language=None))
    for table in (participation, field_note):
        connection.execute(delete(table).where(table.c.interview_id == interview_id))


# --- some stretches of a recording -----------------------------------------------------------------------------------


def stretches_gone(connection: Connection, recording_id: int, gone: Times, numbers: Mapping[int, Mapping[int, int]], at: str) -> None:
    """Take out whatever lies on these stretches of a recording, whose words went already. `numbers`: what became of the words of changed blocks."""
    _forget_made_of(connection, recording_id)
    for table in (mention, kept_item, passage_by_hand, risk):
        rows = connection.execute(select(table.c.id, table.c.start_ms, table.c.end_ms).where(table.c.recording_id == recording_id, table.c.start_ms.is_not(None)))
        connection.execute(delete(table).where(table.c.id.in_([r.id for r in rows if touches(r.start_ms, r.end_ms, gone)])))
    tags = connection.execute(select(tag.c.id, tag.c.start_ms, tag.c.end_ms).where(tag.c.recording_id == recording_id))
    _tags_gone(connection, {r.id for r in tags if touches(r.start_ms, r.end_ms, gone)})
    works = connection.execute(select(work.c.id, work.c.start_ms, work.c.end_ms).where(work.c.recording_id == recording_id))
    _works_gone(connection, {r.id for r in works if touches(r.start_ms, r.end_ms, gone)})
    for table in (edit, sitting):
        connection.execute(delete(table).where(table.c.recording_id == recording_id))
    connection.execute(update(version).where(version.c.recording_id == recording_id).values(edits_to=0))
    _sent_gone(connection, recording_id)
    lost = []
    for row in excerpts_of(connection, recording_id):
        spans = moved(row.spans, numbers)
        if spans is None:
            lost.append(row.id)
        elif spans != row.spans:
            connection.execute(update(excerpt).where(excerpt.c.id == row.id).values(spans=spans))
    excerpts_gone(connection, lost, at)
    translations_gone(connection, recording_id, gone)
    code = connection.execute(select(recording.c.code).where(recording.c.id == recording_id)).scalar_one()
    _jobs_gone(connection, recording_id, code, at)
    _seen_gone(connection, recording_id)
    bump_consent(connection)


def lost_excerpts(connection: Connection, recording_id: int, numbers: Mapping[int, Mapping[int, int]]) -> list[Any]:
    """Excerpts of a recording of which words go, by what becomes of the words of changed blocks."""
    return [r for r in excerpts_of(connection, recording_id) if moved(r.spans, numbers) is None]


def new_master(connection: Connection, recording_id: int, **values: Any) -> None:
    """Put a silenced master in the place of the old one; what was measured of that goes, until the new one is measured."""
    old = connection.execute(select(recording.c.master_id).where(recording.c.id == recording_id)).scalar_one()
    connection.execute(delete(second_copy).where(second_copy.c.master_id == old))
    connection.execute(update(master).where(master.c.id == old).values(track=0, trouble="", checked_at=None, **values))
    nothing: dict[str, Any] = {"peaks": b"", "levels": None, "ears": None, "speech_ms": [], "damage": [], "flags": []}
    connection.execute(update(measurement).where(measurement.c.recording_id == recording_id).values(**nothing))


# --- excerpts, translations -------------------------------------------------------------------------------------------


def excerpts_gone(connection: Connection, ids: Collection[int], at: str) -> None:
    """Empty excerpts: their codes and where they went stay on record."""
    rows = list(connection.execute(select(excerpt).where(excerpt.c.id.in_(ids))))
    live = set(connection.execute(select(excerpt.c.wording_sha256).where(excerpt.c.id.not_in(ids))).scalars())
    wordings = {r.wording_sha256 for r in rows} - live
    wordings |= _reviews_gone(connection, review_item.c.excerpt_id.in_(ids))
    for table in (approval, interpreted_check):
        connection.execute(delete(table).where(table.c.wording_sha256.in_(wordings)))
    connection.execute(delete(heard).where(heard.c.excerpt_id.in_(ids)))
    readings = readings_of(connection, ids)
    connection.execute(delete(spoken_by).where(spoken_by.c.excerpt_id.in_(ids)))
    unread = set(readings) - set(connection.execute(select(spoken_by.c.master_sha256)).scalars())
    spare = select(master.c.id).where(master.c.sha256.in_(unread))
    connection.execute(delete(second_copy).where(second_copy.c.master_id.in_(spare)))
    connection.execute(delete(master).where(master.c.sha256.in_(unread)))
    emptied: dict[str, Any] = {"spans": [], "wording_sha256": NOTHING, "panel": "", "note": "", "translation": "", "translations_after": [], "dated": "", "later_id": None, "shows": "original", "set_aside_at": at}
    connection.execute(update(excerpt).where(excerpt.c.id.in_(ids)).values(**emptied))
    connection.execute(update(export_item).where(export_item.c.excerpt_id.in_(ids)).values(wording_sha256=NOTHING, mask_digest=NOTHING))
    codes = {r.code for r in rows}
    for row in list(connection.execute(select(job).where(job.c.kind == "export"))):
        if names_any([row.args, row.outcome], codes):
            connection.execute(update(job).where(job.c.id == row.id).values(args={}, outcome={}, words=""))


def _reviews_gone(connection: Connection, wanted: ColumnElement[bool]) -> set[str]:
    """Empty what was put to speakers and what they answered: that a sheet was out stays on record. Returns the checksums under which they answered."""
    asked = list(connection.execute(select(review_item.c.id, review_item.c.wording_sha256, excerpt.c.wording_sha256.label("said")).join(excerpt, excerpt.c.id == review_item.c.excerpt_id).where(wanted)))
    ids, said = {r.id for r in asked}, {r.id: r.said for r in asked}
    answers = list(connection.execute(select(review_answer).where(review_answer.c.item_id.in_(ids))))
    connection.execute(update(excerpt).where(excerpt.c.later_id.in_([a.id for a in answers])).values(later_id=None))
    connection.execute(delete(review_answer).where(review_answer.c.item_id.in_(ids)))
    connection.execute(update(review_item).where(review_item.c.id.in_(ids)).values(wording_sha256=NOTHING, stands=[]))
    return {r.wording_sha256 for r in asked} | {wording_of_later(said[a.item_id], a.later) for a in answers if a.later}


def translations_gone(connection: Connection, recording_id: int, gone: Times | None) -> None:
    """Empty the translations of a recording, or those that lie on these stretches: one row of each stays, set aside, so that its code is not given again."""
    rows = list(connection.execute(select(translation).where(translation.c.recording_id == recording_id).order_by(translation.c.id)))
    codes = {r.code for r in rows if gone is None or touches(r.start_ms, r.end_ms, gone)}
    newest = {r.code: r.id for r in rows if r.code in codes}
    old = [r.id for r in rows if r.code in codes and r.id != newest[r.code]]
    connection.execute(delete(translation).where(translation.c.id.in_(old)))
    emptied = {"text": "", "original_sha256": NOTHING, "hidden": None, "state": Translated.ASIDE.value}
    connection.execute(update(translation).where(translation.c.id.in_(newest.values())).values(**emptied))


# --- a person --------------------------------------------------------------------------------------------------------


def names_of(connection: Connection, person_id: int) -> tuple[str, ...]:
    """Names by which an erased person is looked for: the full ones, and what else is nobody's and nothing's but theirs."""
    mine, others = [], ""
    for row in connection.execute(select(person_name)):
        if row.person_id == person_id:
            mine.append(row)
        else:
            others += f" {folded(row.text)} "
    for table, column, _ in _EXCUSED_LISTS:
        others += "".join(f" {folded(t)} " for t in connection.execute(select(table.c[column])).scalars())
    others += "".join(f" {folded(t)} " for t in connection.execute(select(place_name.c.text)).scalars())
    known = f" {' '.join(tokens(others))} "
    alone = [r for r in mine if r.kind not in ("full", "first", "initials") and r.scan == Scan.ALWAYS.value and len(r.text) > 2]
    alone = [r for r in alone if f" {' '.join(tokens(r.text))} " not in known]
    return tuple(dict.fromkeys(r.text for r in [*(r for r in mine if r.kind == "full"), *alone]))


def person_gone(connection: Connection, person_id: int, destroy_paper: bool, by: str, at: str) -> None:
    """Empty a person: the code stays, and that papers of these codes and days were there; with `destroy_paper` not even what they said."""
    emptied = {"born": None, "died": None, "adult_from": None, "adult_by": None, "dead_by": None, "sex": "", "note": "", "erased_at": at}
    connection.execute(update(person).where(person.c.id == person_id).values(**emptied))
    _reviews_gone(connection, review_item.c.sheet_id.in_(select(review_sheet.c.id).where(review_sheet.c.person_id == person_id)))
    for table in (person_name, contact, wish, approval, risk, participation, speaks_for):
        connection.execute(delete(table).where(table.c.person_id == person_id))
    connection.execute(update(speaks_for).where(speaks_for.c.other_id == person_id).values(papers=""))  # whom they speak for needs it on record that they did
    papers = select(agreement.c.id).where(agreement.c.person_id == person_id)
    connection.execute(update(permission).where(permission.c.agreement_id.in_(papers)).values(conditions=""))
    connection.execute(update(agreement).where(agreement.c.person_id == person_id).values(note="", basis=""))
    if destroy_paper:  # else whoever was not to open them is not to open their paper either
        connection.execute(delete(account_reach).where(account_reach.c.person_id == person_id))
        connection.execute(delete(permission).where(permission.c.agreement_id.in_(papers)))
        connection.execute(update(agreement).where(agreement.c.person_id == person_id).values(paper_sha256=None, taken_by=""))
        connection.execute(delete(signed_paper).where(_signed_by(person_id)))
    connection.execute(update(objection).where(objection.c.person_id == person_id).values(how="", reason=""))
    holds = or_(restraint.c.person_id == person_id, restraint.c.raised_by_id == person_id)
    connection.execute(update(release).where(release.c.restraint_id.in_(select(restraint.c.id).where(holds))).values(reason=""))
    connection.execute(update(restraint).where(holds).values(how="", event=""))
    for side in ("left_person_id", "right_person_id"):
        connection.execute(update(recording).where(recording.c[side] == person_id).values({side: None}))
    hide_everywhere(connection, person_id, by, at)
    bump_consent(connection)


def hide_everywhere(connection: Connection, person_id: int, by: str, at: str) -> None:
    """Where others name them, the words stay hidden for good: a decision of its own on every stretch."""
    newest = select(func.max(mention.c.id)).where(mention.c.person_id == person_id)
    newest = newest.group_by(mention.c.recording_id, mention.c.start_ms, mention.c.end_ms)
    rows = [r._asdict() for r in connection.execute(select(mention).where(mention.c.id.in_(newest)))]
    hidden = [{**{k: v for k, v in r.items() if k != "id"}, "decision": Decision.HIDE.value, "how": "", "by": by, "at": at} for r in rows]
    if hidden:
        connection.execute(mention.insert(), hidden)


def scrub(connection: Connection, names: Collection[str], codes: Collection[str]) -> list[str]:
    """Take names out of all that the team typed (SCRUBBED), and out of lists that would keep them; `codes` of what was erased out of the
    glossary's sources. Returns what bears the name still, in words, for people to rename."""
    _scrub_table(connection, metadata.tables["glossary"], ("source",), codes)
    wanted = {" ".join(tokens(name)) for name in names}
    for table_name, columns in SCRUBBED.items():
        _scrub_table(connection, metadata.tables[table_name], columns, names)
    for row in list(connection.execute(select(spelling))):
        if _has(wanted, row.key, row.text, row.note, *row.heard_as):
            connection.execute(delete(spelling).where(spelling.c.key == row.key))
    for row in list(connection.execute(select(place_name).where(place_name.c.kind != "also"))):
        if _has(wanted, row.text):
            connection.execute(delete(place_name).where(place_name.c.id == row.id))
    for row in list(connection.execute(select(question))):
        if _has(wanted, row.name, json.dumps(row.asked, ensure_ascii=False)):
            connection.execute(delete(question_seen).where(question_seen.c.question_id == row.id))
            connection.execute(delete(question).where(question.c.id == row.id))
    return [
        f"{what} {row.id}" for table, column, what in _EXCUSED_LISTS for row in connection.execute(select(table)) if _has(wanted, *_texts(row._asdict().values()))
    ]  # fmt: skip


def _texts(values: Iterable[Any]) -> Iterator[str]:
    return (v if isinstance(v, str) else json.dumps(v, ensure_ascii=False) for v in values if isinstance(v, str | list))


def _has(wanted: Collection[str], *texts: str) -> bool:
    said = [f" {' '.join(tokens(t))} " for t in texts]
    return any(f" {name} " in one for name in wanted for one in said)


def _scrub_table(connection: Connection, table: Table, columns: tuple[str, ...], names: Collection[str]) -> None:
    keys = list(table.primary_key.columns)
    for row in list(connection.execute(select(*keys, *(table.c[c] for c in columns)))):
        had = row._asdict()
        left = {c: in_text(had[c], names) if isinstance(had[c], str) else in_data(had[c], names) for c in columns if had[c]}
        changed = {c: v for c, v in left.items() if v != had[c]}
        if changed:
            connection.execute(update(table).where(*(k == had[k.name] for k in keys)).values(**changed))


def details_gone(connection: Connection, subjects: Collection[str], ids: Mapping[str, Collection[int]], texts: Collection[str]) -> int:
    """Erase what stands beside entries of the log that are about these: the chain of their digests stays whole. Returns how many."""
    gone = []
    for row in connection.execute(select(audit.c.id, audit.c.subject, audit_detail.c.detail).join(audit_detail, audit_detail.c.audit_id == audit.c.id)):
        by_id = any(row.detail.get(key) in wanted for key, wanted in ids.items())
        if row.subject in subjects or by_id or names_any(row.detail, texts):
            gone.append(row.id)
    connection.execute(delete(audit_detail).where(audit_detail.c.audit_id.in_(gone)))
    return len(gone)
