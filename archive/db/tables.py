"""The schema. Stretches are (recording_id, start_ms, end_ms), half-open; days are dates, `until_on` exclusive.

Nothing durable points at a passage. Append-only tables are listed in APPEND_ONLY; triggers of the first migration guard them.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=NAMING)


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _ref(name: str, target: str, null: bool = False, index: bool = True) -> Column[int]:
    return Column(name, Integer, ForeignKey(f"{target}.id"), nullable=null, index=index)


def _by() -> list[Column[str]]:
    """Who and when (UTC, ISO 8601 with seconds)."""
    return [Column("by", String(80), nullable=False), Column("at", String(32), nullable=False)]


def _typed() -> list[Column[str]]:
    """Who added a mis-hearing by hand and when; "" where the sheet has it, which writes its own rows anew and leaves these."""
    return [Column(name, String(size), nullable=False, server_default="") for name, size in (("by", 80), ("at", 32))]


def _stretch(null: bool = False) -> list[Column[int]]:
    return [
        _ref("recording_id", "recording", null=null),
        Column("start_ms", Integer, nullable=null),
        Column("end_ms", Integer, nullable=null),
    ]


fact = Table("fact", metadata, Column("key", String(60), primary_key=True), Column("value", Text, nullable=False))

# --- people -----------------------------------------------------------------------------------------------------
person = Table(
    "person", metadata, _id(),
    Column("code", String(20), nullable=False, unique=True),
    Column("born", String(20)),  # EDTF as told
    Column("died", String(20)),
    Column("adult_from", Date),  # earliest and latest possible 18th birthday, from `born`; NULL: not known
    Column("adult_by", Date),
    Column("dead_by", Date),  # latest possible day of death, from `died`; NULL: not known
    Column("sex", String(20), nullable=False, server_default=""),  # as told; "": not on record
    Column("note", Text, nullable=False, server_default=""),
    Column("erased_at", String(32)),
)
person_name = Table(
    "person_name", metadata, _id(), _ref("person_id", "person"),
    Column("text", String(200), nullable=False),
    Column("kind", String(12), nullable=False),  # full first family nick initials heard_as pseudonym
    Column("scan", String(8), nullable=False, server_default="always"),
    *_typed(), UniqueConstraint("person_id", "text", "kind"),
)
contact = Table(  # how somebody may be reached; only what counts now is kept
    "contact", metadata, Column("person_id", Integer, ForeignKey("person.id"), primary_key=True),
    Column("called", String(200), nullable=False, server_default=""), Column("address", Text, nullable=False, server_default=""),
    Column("rules", JSON, nullable=False), Column("language", String(35), nullable=False), Column("large", Boolean, nullable=False),
    Column("how", Text, nullable=False, server_default=""), *_by(),
)
# How somebody wishes to be called and heard, and whether quotes go to them first. Append-only; the latest counts.
wish = Table(
    "wish", metadata, _id(), _ref("person_id", "person"),
    Column("attribution", String(12), nullable=False),
    Column("voice", String(12), nullable=False),
    Column("review", String(12), nullable=False),
    Column("from_on", Date, nullable=False), *_by(),
)
use = Table(
    "use", metadata, Column("code", String(30), primary_key=True), Column("label", String(120), nullable=False),
    Column("inward", Boolean, nullable=False),
)

# --- interviews and recordings ----------------------------------------------------------------------------------
interview = Table(
    "interview", metadata, _id(), Column("code", String(40), nullable=False, unique=True),
    Column("title", Text, nullable=False, server_default=""), Column("held_on", Date), Column("language", String(12)),
)
participation = Table(
    "participation", metadata, _id(), _ref("interview_id", "interview"), _ref("person_id", "person"),
    Column("role", String(16), nullable=False), UniqueConstraint("interview_id", "person_id", "role"),
)
master = Table(
    "master", metadata, _id(), Column("sha256", String(64), nullable=False, unique=True),
    Column("bytes", Integer, nullable=False), Column("extension", String(8), nullable=False), *_by(),
    Column("checked_at", String(32)), Column("trouble", Text, nullable=False, server_default=""),  # what the newest check found; "": whole
    Column("track", Integer, nullable=False, server_default="0"),  # which of its sound tracks is the recording, from 0
    Column("made_from", String(64), nullable=False, server_default=""),  # SHA-256 of the erased file that this one was made from, with speech in it silenced
)
second_copy = Table(  # a master written to the second place, by that place's mark
    "second_copy", metadata, Column("master_id", Integer, ForeignKey("master.id"), primary_key=True),
    Column("place", String(40), primary_key=True), Column("copied_at", String(32), nullable=False),
    Column("read_back_at", String(32)), Column("checked_at", String(32)), Column("trouble", Text, nullable=False, server_default=""),
)
recording = Table(
    "recording", metadata, _id(), Column("code", String(40), nullable=False, unique=True),
    _ref("interview_id", "interview", null=True), Column("position", Integer, nullable=False, server_default="1"),
    Column("master_id", Integer, ForeignKey("master.id"), nullable=False, unique=True),
    Column("original_name", Text, nullable=False), Column("title", Text, nullable=False, server_default=""),
    Column("recorded_on", Date), Column("language", String(12), nullable=False, server_default="en"),  # that it came with: `spoken_language` counts
    Column("microphones", String(4), nullable=False, server_default="one"),  # one | two
    _ref("left_person_id", "person", null=True), _ref("right_person_id", "person", null=True),
    Column("duration_ms", Integer, nullable=False, server_default="0"),
    Column("erased_at", String(32)),  # only its code, its master's checksum and its place in the interview are left
)
spoken_language = Table(  # append-only: which language is spoken, in all of a recording or (stretch) from–to; the last word counts
    "spoken_language", metadata, _id(), _ref("recording_id", "recording"), Column("start_ms", Integer), Column("end_ms", Integer),
    Column("language", String(35), nullable=False), *_by(),  # a BCP 47 tag; "": what was said of this stretch counts no more
)
finding = Table(
    "finding", metadata, _id(), Column("batch", String(32), nullable=False, index=True),
    Column("source_name", Text, nullable=False), Column("outcome", String(12), nullable=False),  # taken duplicate refused
    Column("reason_code", String(40), nullable=False, server_default=""), Column("words", Text, nullable=False),
    _ref("recording_id", "recording", null=True), *_by(),
)
listened = Table(  # somebody listened to the start, middle or end of a recording before its card is cleared
    "listened", metadata, _id(), _ref("recording_id", "recording"), Column("part", String(8), nullable=False), *_by(),
)
field_note = Table(  # what was noted in the field; for keepers and editors, never indexed and never let out
    "field_note", metadata, _id(), Column("code", String(12), nullable=False, unique=True),
    _ref("interview_id", "interview", null=True), _ref("recording_id", "recording", null=True),
    *(Column(name, Text, nullable=False, server_default="") for name in ("who", "where", "when", "with_what", "in_the_room", "remarks")),
    Column("written_by", String(80), nullable=False, server_default=""), Column("written_at", String(32)), *_by(),
)
measurement = Table(
    "measurement", metadata,
    Column("recording_id", Integer, ForeignKey("recording.id"), primary_key=True),
    Column("container", String(40), nullable=False), Column("codec", String(40), nullable=False),
    Column("rate_hz", Integer, nullable=False), Column("bit_depth", Integer), Column("channels", Integer, nullable=False),
    Column("duration_ms", Integer, nullable=False), Column("loudness_lufs", Float), Column("true_peak_dbtp", Float),
    Column("speech_ms", JSON, nullable=False),  # per channel [[start_ms, end_ms], ...]; one entry when mixed
    Column("damage", JSON, nullable=False),  # [[start_ms, end_ms, words], ...]
    Column("flags", JSON, nullable=False),  # [[code, start_ms | null, end_ms | null, words], ...]
    Column("peak_ms", Integer, nullable=False), Column("peaks", LargeBinary, nullable=False), *_by(),
    Column("levels", LargeBinary),  # one byte a step of audio.levels: how loud it is there, for the edges of a mute
    Column("ears", LargeBinary),  # one byte a step of audio.bands, channel after channel: how loud it is to an ear, for the sound check
)

# What a file told about itself when it came: the recorder's word, never a fact.
origin = Table(
    "origin", metadata,
    Column("recording_id", Integer, ForeignKey("recording.id"), primary_key=True),
    Column("originator", Text, nullable=False, server_default=""), Column("description", Text, nullable=False, server_default=""),
    Column("notes", JSON, nullable=False),  # [[name, text], ...]
    Column("day", String(10), nullable=False, server_default=""), Column("time", String(8), nullable=False, server_default=""),  # of its clock
    Column("doubt", Text, nullable=False, server_default=""),  # why the clock cannot be right, in words
    Column("started_ms", Integer), Column("exact", Boolean, nullable=False, server_default="0"),  # first sample on its clock; exact: counted in samples
    Column("closed_ms", Integer),  # when the file was last written to, by the card's own time
    _ref("beside_id", "recording", null=True), Column("beside_ms", Integer),  # another microphone at the same time, and how much later this one began
)
companion = Table(  # a file that lay beside a recording on its card, kept under its checksum
    "companion", metadata, _id(), _ref("recording_id", "recording"), Column("name", Text, nullable=False),
    Column("kind", String(12), nullable=False),  # checksum | data | text | picture | captions
    Column("sha256", String(64), nullable=False), Column("bytes", Integer, nullable=False), Column("extension", String(8), nullable=False),
    Column("says", String(8), nullable=False, server_default=""),  # of a checksum: matches | differs
    *_by(), UniqueConstraint("recording_id", "sha256"),
)
upload = Table(  # a file on its way from a browser, in pieces of domain.pieces
    "upload", metadata, _id(), Column("key", String(32), nullable=False, unique=True), Column("name", Text, nullable=False),
    Column("bytes", Integer, nullable=False), Column("first_sha256", String(64), nullable=False),
    Column("sha256", String(64), nullable=False, server_default=""),  # of the whole, as the browser summed it
    Column("modified_ms", Integer, nullable=False, server_default="0"), Column("interview", String(40), nullable=False, server_default=""),
    Column("track", Integer), Column("state", String(8), nullable=False, server_default="open"),  # open | whole | taken | refused
    Column("words", Text, nullable=False, server_default=""), _ref("recording_id", "recording", null=True), *_by(),
    Column("touched_at", String(32), nullable=False), Column("batch", String(32), nullable=False, server_default="", index=True),  # sent together
    Column("as_of", BigInteger, nullable=False, server_default="0"),  # last change of the file (ns) where it is known to be what was sent
)
upload_piece = Table(
    "upload_piece", metadata, Column("upload_id", Integer, ForeignKey("upload.id"), primary_key=True),
    Column("n", Integer, primary_key=True), Column("sha256", String(64), nullable=False),
)

# --- words --------------------------------------------------------------------------------------------------------
run = Table(
    "run", metadata, _id(), _ref("job_id", "job", null=True), _ref("recording_id", "recording"),
    Column("engine", String(60), nullable=False), Column("model", String(60), nullable=False),
    Column("model_sha256", String(64), nullable=False), Column("language", String(12), nullable=False),
    Column("vocabulary", JSON, nullable=False), Column("options", JSON, nullable=False), *_by(),
)
block = Table(  # immutable: one utterance's words [[text, start_ms, end_ms, probability], ...]
    "block", metadata, _id(), Column("sha256", String(64), nullable=False, index=True), Column("words", JSON, nullable=False),
    Column("start_ms", Integer, nullable=False), Column("end_ms", Integer, nullable=False),  # of its words, to find it without reading them
)
version = Table(
    "version", metadata, _id(), _ref("recording_id", "recording"), _ref("parent_id", "version", null=True, index=False),
    Column("kind", String(12), nullable=False),  # machine | merged | speakers | sitting | back | imported
    _ref("run_id", "run", null=True, index=False), *_by(),
    Column("edits_to", Integer, nullable=False, server_default="0"),  # the newest edit that is in it
)
version_block = Table(
    "version_block", metadata, Column("version_id", Integer, ForeignKey("version.id"), primary_key=True),
    Column("position", Integer, primary_key=True), _ref("block_id", "block"), _ref("speaker_id", "person", null=True),
    Column("state", String(10), nullable=False, server_default="machine"), Column("state_by", String(80), nullable=False, server_default=""),
    Column("verbatim", Boolean, nullable=False, server_default="0"), Column("overlap", Boolean, nullable=False, server_default="0"),
)
# Somebody sits down to correct; what they change is kept at once, and becomes a version when they are done.
sitting = Table(
    "sitting", metadata, _id(), _ref("recording_id", "recording"), *_by(), Column("ended_at", String(32)),
)
edit = Table(  # append-only: [key, speaker, start_ms, end_ms, state, by, verbatim, overlap] a line, before and after
    "edit", metadata, _id(), _ref("sitting_id", "sitting"), _ref("recording_id", "recording"),
    Column("mark", String(40), nullable=False, unique=True),  # of the page that sent it: what comes twice counts once
    Column("undoes", Integer, nullable=False, server_default="0"), Column("old", JSON, nullable=False), Column("new", JSON, nullable=False),
    Column("after", Integer, nullable=False), *_by(),
)

# Where people's corrections and a newer hearing differ from the older one in two ways: a stretch, and where the newer wording stands.
conflict = Table(
    "conflict", metadata, _id(), *_stretch(), _ref("version_id", "version", index=False),  # the newer hearing
    Column("spans", JSON, nullable=False),  # of it: [[block_id, first, last inclusive], ...]; none where nothing was heard
    _ref("speaker_id", "person", null=True, index=False), Column("at", String(32), nullable=False),
    Column("decided", String(8), nullable=False, server_default=""),  # ours | theirs | newer: another hearing took its place
    Column("decided_by", String(80), nullable=False, server_default=""), Column("decided_at", String(32)),
)

# What voices are like, in windows of some piece of a recording: personal data, deleted once it is decided who speaks.
voice_heard = Table(
    "voice_heard", metadata, _id(), *_stretch(), Column("windows", JSON, nullable=False),  # [[start_ms, end_ms], ...]
    Column("vectors", LargeBinary, nullable=False),  # float16, 192 a window
    Column("at", String(32), nullable=False),
)

# --- passages and finding ----------------------------------------------------------------------------------------
passage = Table(
    "passage", metadata, _id(), *_stretch(), _ref("version_id", "version"),
    Column("position", Integer, nullable=False), Column("lineage", JSON, nullable=False),
)
# A stretch that a person made one passage by splitting or joining: it stays one when the recording is cut anew, and stands where its words
# are when it is transcribed anew. What one act made has its number; undone, that is gone and what it ended is in force again.
passage_by_hand = Table(
    "passage_by_hand", metadata, _id(), *_stretch(), Column("act", Integer, nullable=False), Column("ended_by_act", Integer),
    Column("how", String(8), nullable=False), *_by(),  # split | joined
    CheckConstraint("end_ms > start_ms", name="stretch"),
)
# The set of people heard, on one ground: an interview, or a piece of a recording where an agreement covers only part.
voicing = Table(
    "voicing", metadata, _id(), Column("key", Text, nullable=False, unique=True), _ref("interview_id", "interview", null=True),
    *_stretch(null=True),
)
voicing_person = Table(
    "voicing_person", metadata, Column("voicing_id", Integer, ForeignKey("voicing.id"), primary_key=True),
    Column("person_id", Integer, ForeignKey("person.id"), primary_key=True), Index(None, "person_id"),
)
find_unit = Table(
    "find_unit", metadata, _id(), _ref("passage_id", "passage"), *_stretch(), _ref("voicing_id", "voicing"),
    # What Find can be narrowed by, reckoned when it is indexed; "": not reckoned
    Column("state", String(10), nullable=False, server_default=""), Column("language", String(35), nullable=False, server_default=""),
    Column("sound", String(6), nullable=False, server_default=""),  # domain.soundcheck.Fit
    Index("ix_find_unit_place", "recording_id", "start_ms"),
)
# At which revision of the index a recording's units were written last: the newest one is the index's own. Rows stay when a recording goes.
indexed = Table(
    "indexed", metadata, Column("recording_id", Integer, primary_key=True, autoincrement=False), Column("revision", Integer, nullable=False, index=True),
)
find_text = Table(
    "find_text", metadata, Column("unit_id", Integer, ForeignKey("find_unit.id"), primary_key=True),
    Column("full_exact", Text, nullable=False), Column("full_stem", Text, nullable=False),
    Column("shown_exact", Text, nullable=False), Column("shown_stem", Text, nullable=False),
)
unit_vector = Table(  # what a unit is about, made from its words: a window of them in each 384 numbers, float16 little endian
    "unit_vector", metadata, _id(), _ref("unit_id", "find_unit", index=False), Column("wording", String(5), nullable=False),  # full | shown | both
    Column("model", String(64), nullable=False), Column("vectors", LargeBinary, nullable=False),
    UniqueConstraint("unit_id", "wording"), Index(None, "model"), sqlite_autoincrement=True,  # an id is never given twice: caches go by it
)
unit_tag = Table(  # facet values of a unit; shown: its evidence is not under a mask
    "unit_tag", metadata, Column("unit_id", Integer, ForeignKey("find_unit.id"), primary_key=True),
    Column("tag_id", Integer, ForeignKey("tag.id"), primary_key=True), Column("kind", String(8), primary_key=True),
    Column("value", String(120), primary_key=True), Column("shown", Boolean, nullable=False),
    Index(None, "kind", "value"),
)

# --- describing --------------------------------------------------------------------------------------------------
place = Table(
    "place", metadata, _id(), Column("name", String(120), nullable=False, unique=True), Column("kind", String(40), nullable=False),
    Column("language", String(35), nullable=False, server_default=""),  # of the name
    _ref("same_as_id", "place", null=True),
    Column("valid_from", String(60)), Column("valid_until", String(60)),  # EDTF: when it bore this name
    Column("x_m", Integer), Column("y_m", Integer),  # on the archive's own plan
    Column("latitude", Float), Column("longitude", Float),  # degrees, WGS 84
)
place_within = Table(
    "place_within", metadata, _id(), _ref("place_id", "place"), _ref("within_id", "place"),
    Column("edtf", String(60), nullable=False, server_default=""),  # when; "" at any time
    UniqueConstraint("place_id", "within_id", "edtf"),
)
place_name = Table(
    "place_name", metadata, _id(), _ref("place_id", "place"), Column("text", String(120), nullable=False),
    Column("kind", String(8), nullable=False),  # also | heard | not (sounds like it, and is something else)
    Column("edtf", String(60), nullable=False, server_default=""), Column("language", String(35), nullable=False, server_default=""),
    *_typed(), UniqueConstraint("place_id", "text"),
)
spelling = Table(  # append-only: the newest row of a key counts. Mis-hearings of places and people on record are with them
    "spelling", metadata, _id(), Column("key", String(120), nullable=False, index=True), Column("text", String(120), nullable=False),
    Column("kind", String(12), nullable=False), Column("heard_as", JSON, nullable=False), Column("note", Text, nullable=False, server_default=""),
    Column("off", Boolean, nullable=False, server_default="0"), *_by(),  # off: taken off the list
)
event = Table(
    "event", metadata, _id(), Column("name", String(120), nullable=False, unique=True), Column("edtf", String(60), nullable=False),
    Column("also", JSON, nullable=False),
)
theme = Table(
    "theme", metadata, _id(), Column("name", String(120), nullable=False, unique=True), _ref("broader_id", "theme", null=True),
    Column("scope_note", Text, nullable=False), Column("words", JSON, nullable=False),
    Column("use_for", JSON, nullable=False, server_default="[]"),  # [[language, text], ...]; "": the archive's own language
    Column("labels", JSON, nullable=False, server_default="[]"),  # its name in other languages, in the same way
    Column("uri", String(300), nullable=False, server_default=""), Index(None, "uri", unique=True),  # what it is called in SKOS, whatever its name
)
theme_related = Table(  # one row for both directions, the lower id first
    "theme_related", metadata, Column("theme_id", Integer, ForeignKey("theme.id"), primary_key=True),
    Column("other_id", Integer, ForeignKey("theme.id"), primary_key=True),
)
theme_word_off = Table(  # a word that is not to be learned for a theme: no copy of it, so that an erasure has nothing to look for here
    "theme_word_off", metadata, _id(), _ref("theme_id", "theme"), Column("salt", String(32), nullable=False),
    Column("digest", String(64), nullable=False), *_by(),
)
theme_vector = Table(  # what a theme's scope note is about; text_sha256: of the note it was made from
    "theme_vector", metadata, Column("theme_id", Integer, ForeignKey("theme.id"), primary_key=True),
    Column("text_sha256", String(64), nullable=False), Column("model", String(64), nullable=False), Column("vector", LargeBinary, nullable=False),
)
tag = Table(
    "tag", metadata, _id(), *_stretch(),  # the stretch of the evidence words
    Column("kind", String(8), nullable=False),  # place | date | theme
    Column("value", String(120), nullable=False),  # place name, EDTF, theme name
    Column("state", String(10), nullable=False, server_default="suggested"),  # suggested | confirmed | rejected
    Column("evidence", Text, nullable=False), Column("rule", String(60), nullable=False), Column("reckoning", Text, nullable=False),
    Column("sure", Float, nullable=False), Column("decades", JSON, nullable=False), *_by(),
    Column("decided_by", String(80)), Column("decided_at", String(32)),
    Column("about", String(140), nullable=False, server_default="", index=True),  # of what a date is told (rules/memory.py)
    CheckConstraint("end_ms > start_ms", name="stretch"),
)
# What a person decided about suggestions, to be taken back one by one: what stood before. Deleted when it is taken back; the audit keeps it.
tag_decision = Table(
    "tag_decision", metadata, _id(), _ref("tag_id", "tag"), Column("press", String(24), nullable=False, index=True),  # decided in one go
    Column("was", String(10), nullable=False), Column("was_by", String(80)), Column("was_at", String(32)),
    Column("now", String(10), nullable=False), Column("made", Boolean, nullable=False, server_default="0"),  # the tag itself was made by it
    *_by(), Index(None, "at"),
)
tag_taught_by = Table(  # the recordings whose decided passages taught a suggestion: it goes when anything in one of them is closed
    "tag_taught_by", metadata, Column("tag_id", Integer, ForeignKey("tag.id", ondelete="CASCADE"), primary_key=True),
    Column("recording_id", Integer, ForeignKey("recording.id"), primary_key=True, index=True),
)
mention = Table(  # append-only; the latest row of the same stretch and person counts
    "mention", metadata, _id(), *_stretch(), _ref("person_id", "person", null=True),
    Column("decision", String(10), nullable=False), Column("how", Text, nullable=False, server_default=""), *_by(),
    Column("kind", String(12), nullable=False, server_default="name"),  # domain.values.Naming: how these words point to somebody
    Column("rule", Text, nullable=False, server_default=""),  # what made the machine suggest it; "" where a person did
    Column("instead", String(80), nullable=False, server_default=""),  # the words of the mask ("[a neighbour]"); "": the usual ones
    CheckConstraint("end_ms > start_ms", name="stretch"),
)

# Somebody's translation of a stretch, by its code. Append-only: the latest row counts. A new transcript adds one with the stretch where its
# words are now and the same `number`; a person's change adds one with the next.
translation = Table(
    "translation", metadata, _id(), Column("code", String(20), nullable=False, index=True), Column("number", Integer, nullable=False), *_stretch(),
    Column("original_sha256", String(64), nullable=False),  # of the words that were translated, as they are compared
    Column("language", String(35), nullable=False), Column("text", Text, nullable=False), Column("translator", String(80), nullable=False),
    Column("state", String(10), nullable=False), *_by(),  # domain.translating.State
    Column("hidden", JSON(none_as_null=True)),  # numbers of the words of the original that were hidden when it was written; NULL: not kept yet then
    CheckConstraint("end_ms > start_ms", name="stretch"),
)
glossary = Table(
    "glossary", metadata, _id(), Column("word", String(120), nullable=False), Column("language", String(35), nullable=False),
    Column("meanings", JSON, nullable=False), Column("sensitive", Boolean, nullable=False), Column("source", Text, nullable=False),
    Column("note", Text, nullable=False), *_by(), UniqueConstraint("word", "language"),
)

# --- consent (append-only) ---------------------------------------------------------------------------------------
agreement = Table(
    "agreement", metadata, _id(), Column("code", String(40), nullable=False, unique=True), _ref("person_id", "person"),
    _ref("interview_id", "interview", null=True), *_stretch(null=True),  # NULL interview: a standing one; stretch: covers from-to
    Column("kind", String(14), nullable=False), Column("form", String(8), nullable=False),  # participation|recording signed|spoken
    Column("signed_on", Date, nullable=False), Column("taken_by", String(80), nullable=False), Column("language", String(12), nullable=False),
    Column("number", Integer, nullable=False, server_default="1"), Column("paper_sha256", String(64)),
    Column("copyright", String(10), nullable=False, server_default="kept"), Column("basis", Text, nullable=False, server_default=""),
    _ref("spoken_for_by_id", "person", null=True), Column("relation", String(20), nullable=False, server_default=""),
    Column("minor", Boolean, nullable=False, server_default="0"), Column("assent", Boolean, nullable=False, server_default="0"),
    _ref("supersedes_id", "agreement", null=True), Column("note", Text, nullable=False, server_default=""), *_by(),
    Column("heirs_may_allow", Boolean, nullable=False, server_default="0"),  # the speaker said so
)
speaks_for = Table(  # who speaks for whom, as what; the newest row of the same two and relation counts
    "speaks_for", metadata, _id(), _ref("person_id", "person"), _ref("other_id", "person"),
    Column("relation", String(20), nullable=False), Column("from_on", Date, nullable=False), Column("until_on", Date),
    Column("papers", Text, nullable=False, server_default=""), *_by(),  # what somebody saw that shows it; "": nothing
)
form = Table(  # a form that was printed, found again by its code
    "form", metadata, _id(), Column("code", String(12), nullable=False, unique=True), Column("kind", String(14), nullable=False),
    _ref("person_id", "person", null=True), _ref("interview_id", "interview", null=True),
    Column("account", String(80), nullable=False, server_default=""),  # of a helper who is not among the people
    Column("language", String(35), nullable=False), Column("uses", JSON, nullable=False),  # codes of what it asks for
    Column("exhibition", String(120), nullable=False), *_by(),
)
signed_paper = Table(  # what an agreement or undertaking rests on: a scan under its checksum, or where it is spoken
    "signed_paper", metadata, _id(), _ref("agreement_id", "agreement", null=True), _ref("form_id", "form", null=True),
    Column("sha256", String(64), nullable=False, server_default=""), Column("bytes", Integer, nullable=False, server_default="0"),
    Column("extension", String(8), nullable=False, server_default=""), Column("pages", Integer, nullable=False, server_default="0"),
    *_stretch(null=True), *_by(),
)
permission = Table(
    "permission", metadata, _id(), _ref("agreement_id", "agreement"), Column("use", String(30), ForeignKey("use.code"), nullable=False),
    Column("way", String(8), nullable=False), Column("answer", String(4), nullable=False),
    Column("exhibition", String(120)),  # NULL: any
    Column("from_on", Date), Column("until_on", Date),  # until_on exclusive
    Column("conditions", Text, nullable=False, server_default=""), *_by(),
    Index(None, "use", "way"),
)
# Withdrawn, paused, objected, sealed, embargo: one shape. Every filled target narrows it: speaker, interview, stretch, use.
restraint = Table(
    "restraint", metadata, _id(), Column("kind", String(10), nullable=False), _ref("person_id", "person", null=True),
    _ref("interview_id", "interview", null=True), *_stretch(null=True), Column("use", String(30), ForeignKey("use.code")),
    _ref("raised_by_id", "person", null=True), Column("from_on", Date, nullable=False), Column("until_on", Date),
    Column("needs_review", Boolean, nullable=False), Column("event", Text, nullable=False, server_default=""),
    Column("how", Text, nullable=False, server_default=""), *_by(),
    Column("rule", Text, nullable=False, server_default=""),  # what made the machine close it; "" where a person did
    Column("way", String(8)),  # NULL: in every way
)
release = Table(
    "release", metadata, _id(), _ref("restraint_id", "restraint"), Column("kind", String(8), nullable=False),  # lifted | reviewed | kept
    Column("from_on", Date, nullable=False), Column("reason", Text, nullable=False), *_by(),
)
# Somebody who is spoken about objects; what it holds are restraints of its own. Its decision is written once.
objection = Table(
    "objection", metadata, _id(), _ref("person_id", "person"), Column("how", Text, nullable=False, server_default=""), Column("on", Date, nullable=False), *_by(),
    Column("decision", String(8), nullable=False, server_default=""),  # domain.agreements.ObjectionDecision; "": not decided yet
    Column("reason", Text, nullable=False, server_default=""), Column("decided_on", Date), Column("decided_by", String(80), nullable=False, server_default=""),
)
objection_hold = Table(
    "objection_hold", metadata, Column("objection_id", Integer, ForeignKey("objection.id"), primary_key=True),
    Column("restraint_id", Integer, ForeignKey("restraint.id"), primary_key=True, unique=True),
)
risk = Table(  # for keepers: what could happen to somebody, and when to look at it again
    "risk", metadata, _id(), _ref("person_id", "person", null=True), *_stretch(null=True), Column("words", Text, nullable=False),
    Column("review_on", Date), *_by(), Column("ended_at", String(32)),
)
approval = Table(
    "approval", metadata, _id(), _ref("person_id", "person"), Column("wording_sha256", String(64), nullable=False, index=True),
    Column("use", String(30), ForeignKey("use.code"), nullable=False), Column("way", String(8), nullable=False),
    Column("answer", String(4), nullable=False), Column("from_on", Date, nullable=False), *_by(),
    _ref("given_by_id", "person", null=True, index=False),  # who answered for them; NULL: they themselves
    Column("language", String(35), nullable=False, server_default=""),  # in which it was put to them
)
interpreted_check = Table(  # a second speaker of the language compared an interpreter's words with what was said before them
    "interpreted_check", metadata, _id(), Column("wording_sha256", String(64), nullable=False, index=True), *_by(),
)
work = Table(  # somebody else's work inside speech: a song, a poem, a letter read aloud, a radio playing
    "work", metadata, _id(), *_stretch(), Column("kind", String(20), nullable=False), Column("about", Text, nullable=False, server_default=""), *_by(),
    CheckConstraint("end_ms > start_ms", name="stretch"),
)
work_clearance = Table(  # the newest one in force counts; use, way, exhibition NULL: any
    "work_clearance", metadata, _id(), _ref("work_id", "work"), Column("answer", String(4), nullable=False),
    Column("use", String(30), ForeignKey("use.code")), Column("way", String(8)), Column("exhibition", String(120)),
    Column("from_on", Date, nullable=False), Column("until_on", Date), Column("basis", Text, nullable=False), *_by(),
)
APPEND_ONLY = (
    "wish", "agreement", "permission", "restraint", "release", "approval", "mention", "heard", "block", "version",
    "version_block", "edit", "spelling", "spoken_language", "translation", "audit", "speaks_for", "work", "work_clearance",
    "interpreted_check", "form", "signed_paper", "account_reach", "review_sheet", "review_item", "review_answer",
)
# Every write to these bumps consent_revision in the same transaction.
CONSENT = (
    "wish", "agreement", "permission", "restraint", "release", "approval", "mention", "participation", "version_block", "speaks_for", "work", "work_clearance",
    "interpreted_check", "review_item", "review_answer",
)

# --- excerpts and what left --------------------------------------------------------------------------------------
excerpt = Table(
    "excerpt", metadata, _id(), Column("code", String(20), nullable=False, unique=True), _ref("recording_id", "recording"),
    _ref("version_id", "version"), Column("spans", JSON, nullable=False),  # [[block_id, first, last inclusive], ...]
    Column("wording_sha256", String(64), nullable=False, index=True), Column("use", String(30), ForeignKey("use.code"), nullable=False),
    Column("panel", String(80), nullable=False, server_default=""), Column("note", Text, nullable=False, server_default=""),
    Column("set_aside_at", String(32)), *_by(),
    Column("shows", String(12), nullable=False, server_default="original"),  # domain.translating.Shows
    Column("translation", String(20), nullable=False, server_default=""),  # the code of the one it is shown in
    Column("translations_after", JSON, nullable=False, server_default="[]"),  # codes of those of its further pieces, where words are left out
    Column("dated", String(40), nullable=False, server_default=""),  # EDTF that a person notes after the words: [1968]
    Column("later_id", Integer),  # the answer of a review whose wording stands there instead; no key, since answers point back here
)
review_sheet = Table(  # quotes as they will stand, put to somebody, who answers by a day
    "review_sheet", metadata, _id(), Column("code", String(12), nullable=False, unique=True), _ref("person_id", "person"),
    Column("language", String(35), nullable=False), Column("answer_by", Date, nullable=False), *_by(),
)
review_item = Table(  # one question of a sheet: a quote in one way
    "review_item", metadata, _id(), _ref("sheet_id", "review_sheet"), Column("number", Integer, nullable=False), _ref("excerpt_id", "excerpt"),
    Column("use", String(30), ForeignKey("use.code"), nullable=False), Column("way", String(8), nullable=False),
    Column("wording_sha256", String(64), nullable=False, index=True),
    Column("stands", JSON, nullable=False),  # a SHA-256 of each thing shown of how it will stand, to see what came or changed since
    UniqueConstraint("sheet_id", "number"),
)
review_answer = Table(  # the newest counts
    "review_answer", metadata, _id(), _ref("item_id", "review_item"), Column("answer", String(8), nullable=False),  # yes | no | change
    Column("later", Text, nullable=False, server_default=""),  # the speaker's later wording
    _ref("given_by_id", "person", null=True, index=False), _ref("approval_id", "approval", null=True), *_by(),
)
heard = Table(
    "heard", metadata, _id(), Column("wording_sha256", String(64), nullable=False, index=True), _ref("excerpt_id", "excerpt"),
    Column("second", Boolean, nullable=False, server_default="0"), *_by(),
    Column("shown_sha256", String(64), nullable=False, server_default=""),  # the wording with its masks, and its sound: a changed one is not ticked
    Column("typed_by", String(80), nullable=False, server_default=""),  # the account that typed it in; "": before this was kept
    Column("from_sheet", Boolean, nullable=False, server_default="0"),
    Column("around", JSON, nullable=False, server_default="[]"),  # of a second tick: a SHA-256 of each line shown of what stands around it
)
export = Table(
    "export", metadata, _id(), Column("code", String(30), nullable=False, unique=True), Column("use", String(30), nullable=False),
    Column("exhibition", String(120), nullable=False), Column("consent_revision", Integer, nullable=False),
    Column("state", String(10), nullable=False), Column("folder", Text, nullable=False), *_by(), Column("given_at", String(32)),
)
export_item = Table(
    "export_item", metadata, _id(), _ref("export_id", "export"), _ref("excerpt_id", "excerpt"), _ref("person_id", "person"),
    Column("item", Integer, nullable=False), Column("wording_sha256", String(64), nullable=False),
    Column("mask_digest", String(64), nullable=False), Column("attribution", String(12), nullable=False),
    Column("voice", Boolean, nullable=False),
    Column("how_heard", String(12), nullable=False, server_default=""),  # as_recorded | disguised | read | "": not heard
)
export_file = Table(
    "export_file", metadata, _id(), _ref("export_id", "export"), Column("name", Text, nullable=False), Column("sha256", String(64), nullable=False),
    Column("item", Integer),
)
own_copy = Table(  # what of a recording was handed to whoever says it; nothing of anybody else is in it
    "own_copy", metadata, Column("export_id", Integer, ForeignKey("export.id"), primary_key=True), _ref("person_id", "person"), _ref("recording_id", "recording"),
)
spoken_by = Table(  # a quote read aloud by somebody else, for exactly this shown wording
    "spoken_by", metadata, _id(), _ref("excerpt_id", "excerpt"), Column("shown_sha256", String(64), nullable=False),
    Column("master_sha256", String(64), nullable=False), Column("extension", String(8), nullable=False),
    Column("duration_ms", Integer, nullable=False), Column("credit", String(120), nullable=False), *_by(),
    Column("speech_ms", JSON, nullable=False),  # [[start_ms, end_ms], ...]: where in it somebody reads
)
placement = Table(
    "placement", metadata, _id(), _ref("export_file_id", "export_file"), Column("where", Text, nullable=False),
    Column("up_on", Date), Column("down_on", Date), *_by(),
)
task = Table(  # what only a person can do, out in the world, after something may not be used any more; to be ticked
    "task", metadata, _id(), Column("kind", String(12), nullable=False), Column("what", Text, nullable=False),  # `what`: codes and files, no names
    _ref("person_id", "person", null=True), _ref("restraint_id", "restraint", null=True), _ref("objection_id", "objection", null=True),
    _ref("export_id", "export", null=True), _ref("placement_id", "placement", null=True), _ref("erasure_id", "erasure", null=True), *_by(),
    Column("done_at", String(32)), Column("done_by", String(80), nullable=False, server_default=""), Column("note", Text, nullable=False, server_default=""),
)

# --- work --------------------------------------------------------------------------------------------------------
job = Table(
    "job", metadata, _id(), Column("kind", String(20), nullable=False), Column("subject", String(60), nullable=False),
    Column("args", JSON, nullable=False), Column("state", String(10), nullable=False, server_default="waiting"),
    # waiting working paused done failed stopped (by consent) cancelled (by hand)
    Column("lease_until", Float), Column("lease_token", String(40)), Column("attempt", Integer, nullable=False, server_default="0"),
    Column("done", Integer, nullable=False, server_default="0"), Column("total", Integer, nullable=False, server_default="0"),  # in the kind's unit
    Column("place", Integer, nullable=False, server_default="0"),  # the order in which they are claimed
    Column("idle", Boolean, nullable=False, server_default="0"),  # only while the machine has little else to do
    Column("speeds", JSON, nullable=False, server_default="[]"),  # units a second, the last few, measured on this machine
    Column("machine", String(16), nullable=False, server_default=""),
    Column("words", Text, nullable=False, server_default=""), Column("started_at", String(32)), Column("ended_at", String(32)), *_by(),
    Column("outcome", JSON, nullable=False, server_default="{}"),  # what it found and where it is, beside its words; for its own page
    Index(None, "state"),
)
chunk = Table(
    "chunk", metadata, _id(), _ref("job_id", "job"), Column("n", Integer, nullable=False), Column("channel", Integer, nullable=False),
    Column("start_ms", Integer, nullable=False), Column("end_ms", Integer, nullable=False),
    Column("state", String(8), nullable=False, server_default="waiting"), Column("words", JSON),
    Column("notes", JSON), UniqueConstraint("job_id", "n"),  # notes: what the engine doubts or passed over, times alone
)

# --- on record ---------------------------------------------------------------------------------------------------
audit = Table(
    "audit", metadata, _id(), Column("actor", String(80), nullable=False), Column("action", String(40), nullable=False),
    Column("subject", String(80), nullable=False), Column("at", String(32), nullable=False),
    Column("commitment", String(64), nullable=False), Column("previous", String(64), nullable=False),
    Column("digest", String(64), nullable=False, unique=True),
)
audit_detail = Table(  # beside the chain, so that it can be erased without breaking it
    "audit_detail", metadata, Column("audit_id", Integer, ForeignKey("audit.id"), primary_key=True),
    Column("salt", String(64), nullable=False), Column("detail", JSON, nullable=False),
)

# --- erasure (domain/erasing.py) ----------------------------------------------------------------------------------
erasure = Table(
    "erasure", metadata, _id(), Column("code", String(20), nullable=False, unique=True),
    Column("mark", String(32), nullable=False, unique=True),  # what it is known by in the list that travels with backups
    Column("target", String(80), nullable=False), _ref("person_id", "person", null=True),
    Column("parts", JSON, nullable=False),  # [domain.erasing.Part, ...]
    Column("paper", String(8), nullable=False), Column("reason", Text, nullable=False), Column("state", String(10), nullable=False),
    Column("step", Integer, nullable=False, server_default="0"), Column("due_on", Date, nullable=False), *_by(),
    Column("seconded_by", String(80), nullable=False, server_default=""), Column("ended_at", String(32)),
    Column("made", JSON, nullable=False, server_default="{}"),  # {recording: [sha256, extension, bytes] of its silenced master}
    Column("touched", JSON, nullable=False, server_default="{}"),  # what later steps need and the database no longer tells: ids, checksums, paths
)
erasure_trace = Table(  # keyed digests, eight bytes each, of what must be found nowhere any more: ten words in a row, 4 KiB of sound; no names
    "erasure_trace", metadata, Column("erasure_id", Integer, ForeignKey("erasure.id"), primary_key=True),
    Column("salt", String(32), nullable=False), Column("runs", LargeBinary, nullable=False), Column("sound", LargeBinary, nullable=False),
)

# --- accounts ----------------------------------------------------------------------------------------------------
account = Table(
    "account", metadata, _id(), Column("name", String(80), nullable=False, unique=True), Column("role", String(8), nullable=False),
    Column("password_hash", Text, nullable=False), Column("active", Boolean, nullable=False, server_default="1"),
    Column("session_key", String(64), nullable=False),
)
sign_in_failure = Table(
    "sign_in_failure", metadata, _id(), Column("account", String(80), nullable=False, index=True),
    Column("address", String(64), nullable=False, index=True), Column("at", Float, nullable=False),
)
once_link = Table(
    "once_link", metadata, Column("token_sha256", String(64), primary_key=True), _ref("account_id", "account"),
    Column("expires", Float, nullable=False), Column("used_at", Float),
)
account_reach = Table(  # by whom a person is not to be opened, and what a helper was assigned; the newest row of the same two counts
    "account_reach", metadata, _id(), Column("account", String(80), nullable=False, index=True), _ref("person_id", "person", null=True),
    _ref("recording_id", "recording", null=True), Column("in_force", Boolean, nullable=False), *_by(),
    CheckConstraint("(person_id IS NULL) <> (recording_id IS NULL)", name="of_one"),
)
question = Table(  # what was asked in Find, under a random id, so that no name stands in a URL
    "question", metadata, Column("id", String(40), primary_key=True), Column("account", String(80), nullable=False),
    Column("asked", JSON, nullable=False), Column("at", Float, nullable=False),
    Column("name", String(80), nullable=False, server_default=""),  # of a saved one; "": dropped after a day
    Column("team", Boolean, nullable=False, server_default="0"),  # a saved one that keepers and editors have in common
)
question_seen = Table(  # stretches that answered a saved question when an account looked last, and at the look before: never words
    "question_seen", metadata, Column("question_id", String(40), ForeignKey("question.id"), primary_key=True),
    Column("account", String(80), primary_key=True), Column("seen", JSON, nullable=False),  # {recording id: [[start_ms, end_ms], ...]}
    Column("before", JSON, nullable=False), Column("at", String(32), nullable=False),
)

# --- lists: working trays of stretches --------------------------------------------------------------------------
kept_list = Table(
    "kept_list", metadata, _id(), Column("name", String(80), nullable=False),
    Column("account", String(80), nullable=False, server_default=""),  # whose own it is; "": the team's
    Column("deleted_at", String(32)), *_by(),
)
kept_item = Table(
    "kept_item", metadata, _id(), _ref("list_id", "kept_list"), *_stretch(), Column("position", Integer, nullable=False),
    Column("note", Text, nullable=False, server_default=""), Column("taken_off_at", String(32)), *_by(),
    CheckConstraint("end_ms > start_ms", name="stretch"),
)
