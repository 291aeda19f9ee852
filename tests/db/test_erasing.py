"""Erasure in the database: of every column that can hold text it is said what becomes of it, and no new one is forgotten."""

from __future__ import annotations

from sqlalchemy import JSON, LargeBinary, String, Text, select

from archive.app import Archive
from archive.db import erasing, people
from archive.db.tables import metadata

# What other people say stays theirs; the last look tells where a name is said in it. Gazetteer, themes and events are the archive's own
# lists: what bears the name is told as a task. Spellings, mis-hearings and questions that name somebody are deleted.
STAYS = frozenset({
    "block.words", "chunk.words", "find_text.full_exact", "find_text.full_stem", "find_text.shown_exact", "find_text.shown_stem",
    "translation.text", "tag.evidence", "tag.value", "unit_tag.value", "person_name.text", "place.name", "place.kind", "place_name.text", "event.name",
    "event.also", "theme.name", "theme.scope_note", "theme.words", "theme.use_for", "theme.labels", "spelling.key", "spelling.text",
    "spelling.heard_as", "spelling.note", "question.asked", "question.name", "account.name", "sign_in_failure.account", "use.label",
})  # fmt: skip
# Codes, sums, days, numbers and who did it: nothing that anybody said, and no name.
SAFE = frozenset({
    "fact.key", "fact.value", "person.code", "person.born", "person.died", "person.sex", "person.erased_at", "person_name.kind", "person_name.scan",
    "wish.attribution", "wish.voice", "wish.review", "use.code", "interview.code", "interview.language", "participation.role", "master.sha256",
    "master.extension", "master.checked_at", "master.made_from", "second_copy.place", "second_copy.copied_at", "second_copy.read_back_at",
    "second_copy.checked_at", "recording.code", "recording.language", "recording.microphones", "recording.erased_at", "spoken_language.language",
    "finding.batch", "finding.outcome", "finding.reason_code", "listened.part", "field_note.code", "field_note.written_at", "measurement.container",
    "measurement.codec", "measurement.speech_ms", "measurement.damage", "measurement.flags", "measurement.peaks", "measurement.levels", "measurement.ears",
    "origin.day", "origin.time", "companion.kind", "companion.sha256", "companion.extension", "companion.says", "upload.key", "upload.first_sha256",
    "upload.sha256", "upload.state", "upload.touched_at", "upload.batch", "upload_piece.sha256", "run.engine", "run.model", "run.model_sha256",
    "run.language", "block.sha256", "version.kind", "version_block.state", "version_block.state_by", "sitting.ended_at", "edit.mark", "edit.old",
    "edit.new", "conflict.spans", "conflict.decided", "conflict.decided_by", "conflict.decided_at", "voice_heard.windows",
    "voice_heard.vectors", "passage.lineage", "passage_by_hand.how", "voicing.key", "find_unit.state", "find_unit.language",
    "find_unit.sound", "unit_vector.wording", "unit_vector.model", "unit_vector.vectors", "unit_tag.kind", "place.language", "place.valid_from",
    "place.valid_until", "place_within.edtf", "place_name.kind", "place_name.edtf", "place_name.language", "spelling.kind", "event.edtf", "theme.uri",
    "theme_word_off.salt", "theme_word_off.digest", "theme_vector.text_sha256", "theme_vector.model", "theme_vector.vector", "tag.kind", "tag.state",
    "tag.rule", "tag.decades", "tag.decided_by", "tag.decided_at", "tag_decision.press", "tag_decision.was", "tag_decision.was_by",
    "tag_decision.was_at", "tag_decision.now", "mention.decision", "mention.kind", "mention.rule", "translation.code", "translation.original_sha256",
    "translation.language", "translation.translator", "translation.state", "translation.hidden", "glossary.language", "agreement.code", "agreement.kind",
    "agreement.form", "agreement.language", "agreement.paper_sha256", "agreement.copyright", "agreement.relation", "permission.use", "permission.way",
    "permission.answer", "permission.exhibition", "restraint.kind", "restraint.use", "restraint.rule", "release.kind", "approval.wording_sha256",
    "approval.use", "approval.way", "approval.answer", "excerpt.code", "excerpt.spans", "excerpt.wording_sha256", "excerpt.use", "excerpt.set_aside_at",
    "excerpt.shows", "excerpt.translation", "excerpt.translations_after", "excerpt.dated", "heard.wording_sha256", "heard.shown_sha256", "heard.typed_by", "heard.around", "export.code",
    "export.use", "export.exhibition", "export.state", "export.given_at", "export_item.wording_sha256", "export_item.mask_digest",
    "export_item.attribution", "export_item.how_heard", "export_file.name", "export_file.sha256", "spoken_by.shown_sha256", "spoken_by.master_sha256",
    "spoken_by.extension", "spoken_by.speech_ms", "job.kind", "job.state", "job.lease_token", "job.speeds", "job.machine", "job.started_at",
    "job.ended_at", "chunk.state", "chunk.notes", "audit.actor", "audit.action", "audit.subject", "audit.commitment", "audit.previous",
    "audit.digest", "audit_detail.salt", "audit_detail.detail", "erasure.code", "erasure.mark", "erasure.target", "erasure.parts", "erasure.paper",
    "erasure.state", "erasure.seconded_by", "erasure.ended_at", "erasure.made", "erasure.touched", "task.kind", "task.done_by", "task.done_at",
    "erasure_trace.salt", "erasure_trace.runs", "erasure_trace.sound", "speaks_for.relation", "approval.language", "interpreted_check.wording_sha256", "work.kind", "work_clearance.answer", "work_clearance.use",
    "work_clearance.way", "work_clearance.exhibition", "form.code", "form.kind", "form.account", "form.language", "form.uses",
    "form.exhibition", "signed_paper.sha256", "signed_paper.extension", "review_sheet.code", "review_sheet.language",
    "review_item.use", "review_item.way", "review_item.wording_sha256", "review_item.stands", "review_answer.answer", "restraint.way", "objection.decision", "objection.decided_by", "risk.ended_at",
    "contact.rules", "contact.language", "account_reach.account", "account.role", "account.password_hash", "account.session_key",
    "sign_in_failure.address", "once_link.token_sha256", "question.id", "question.account", "question_seen.question_id", "question_seen.account",
    "question_seen.seen", "question_seen.before", "kept_list.account", "kept_list.deleted_at", "kept_item.taken_off_at",
})  # fmt: skip


def columns() -> set[str]:
    """Every column that can hold text, JSON or bytes."""
    kinds = (String, Text, JSON, LargeBinary)
    return {f"{t.name}.{c.name}" for t in metadata.tables.values() for c in t.columns if isinstance(c.type, kinds) and c.name not in ("by", "at")}


def test_it_is_said_of_every_column_what_an_erasure_does_with_it() -> None:
    """A new column fails here until somebody says whether names are taken out of it (erasing.SCRUBBED), or why not."""
    scrubbed = {f"{table}.{column}" for table, some in erasing.SCRUBBED.items() for column in some}
    assert not scrubbed & STAYS and not scrubbed & SAFE and not STAYS & SAFE
    assert columns() == scrubbed | STAYS | SAFE


def test_a_name_is_taken_out_wherever_it_was_typed(cast_archive: Archive) -> None:
    """However it is written, in every column of which the cast has a row, and nothing else with it."""
    typed, seen = "of Walter Brine, walter brine and Brinewater", 0
    for name, some in erasing.SCRUBBED.items():
        table = metadata.tables[name]
        for column in some:
            with cast_archive.rooms.db.write() as connection, erasing.guards_open(connection):
                row = connection.execute(select(table).limit(1)).first()
                if row is None:
                    continue
                had = getattr(row, column)
                value = {"a": [typed]} if isinstance(had, dict) else [typed] if isinstance(had, list) else typed
                keys = [k == getattr(row, k.name) for k in table.primary_key.columns]
                connection.execute(table.update().where(*keys).values({column: value}))
                erasing.scrub(connection, ["Walter Brine", "Brine"], [])
                left = str(connection.execute(select(table.c[column]).where(*keys)).scalar_one())
            assert "of [erased], [erased] and Brinewater" in left and "walter" not in left.lower(), (name, column)
            seen += 1
    assert seen >= 20


def test_names_that_others_have_too_are_not_looked_for_alone(cast_archive: Archive) -> None:
    """A family name that is also a place or somebody else's would take what is theirs; the full name is looked for always."""
    with cast_archive.rooms.db.write() as connection:
        ids = people.ids_by_code(connection)
        assert set(erasing.names_of(connection, ids["N-25"])) == {"Lena Fosse", "Fosse"}
        connection.execute(metadata.tables["person_name"].insert().values(person_id=ids["N-21"], text="Fosse Hill", kind="nick"))
        assert erasing.names_of(connection, ids["N-25"]) == ("Lena Fosse",)
