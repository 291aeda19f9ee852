"""The archive's own thesaurus: two levels, kept by hand, by a sheet, or by SKOS; renamed, merged and removed with what is tagged with it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from archive.db import audit, consent_rows, describing, facts, reach, themes, uses
from archive.db.session import Connection
from archive.domain import languages
from archive.domain.agreements import TEAM
from archive.domain.letters import folded
from archive.domain.phrases import begin, many
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, Refused, SheetError
from archive.gate.indexing import index_tags
from archive.gate.reading import Readings
from archive.gate.titles import holds_a_name
from archive.render import skos as written
from archive.rules import skos
from archive.rules.themes import Theme
from archive.rules.thesaurus import Fault, faults, preferred
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.sheets import Row, Sheet, Typed

SEE = "See the thesaurus: Recordings, Themes; or `toldhere themes list`."
_WITH_LANGUAGE = re.compile(r"([A-Za-z]{2,3}(?:-[A-Za-z0-9]{2,8})*)\s*:\s*(\S.*)")
_SCHEME = "thesaurus_uri"
_MOST_FAULTS = 30
_NOTHING_TAKEN = "Nothing of this file was taken, and nothing here was changed. Mend it, or take one of its themes with its narrower ones (`--only`)."


@dataclass(frozen=True, slots=True)
class ThemeRow:
    """A theme as the thesaurus shows it, with the number of passages that this viewer may read in which it is confirmed or suggested."""

    id: int
    name: str
    broader: str
    scope_note: str
    words: tuple[str, ...]
    use_for: tuple[tuple[str, str], ...]
    labels: tuple[tuple[str, str], ...]
    related: tuple[str, ...]
    confirmed: int
    suggested: int


@dataclass(frozen=True, slots=True)
class SkosRead:
    """What came of a SKOS file: themes added or corrected, and how many statements of it are kept nowhere, by what they say."""

    themes: int
    left_out: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class SkosWritten:
    """The file, and how many words of themes were left out because they name somebody."""

    data: bytes
    words_left_out: int


class Themes:
    """The thesaurus of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- reading -----------------------------------------------------------------------------------------------
    def list(self, viewer: Viewer) -> tuple[ThemeRow, ...]:
        """Every theme, each under its broader one, by name. For keepers and editors: a note may say what readers are not told."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            listed, ids = themes.everything(connection), {r.name: r.id for r in describing.themes(connection)}
            team = uses.every_use(connection)[TEAM]
            open_units = themes.readable(team, self._rooms.today(), self._rooms.options.exhibition, consent_rows.load_policy(connection, self._rooms.options.cooling_off_days), reach.of(connection, viewer))
            number = themes.counts(connection, open_units)
        order = sorted(listed.values(), key=lambda t: (folded(t.broader or t.name), bool(t.broader), folded(t.name)))
        return tuple(
            ThemeRow(
                ids[t.name], t.name, t.broader, t.scope_note, t.words, t.use_for, t.labels, t.related,
                number.get((t.name, "confirmed"), 0), number.get((t.name, "suggested"), 0),
            )
            for t in order
        )  # fmt: skip

    def one(self, viewer: Viewer, name: str) -> ThemeRow:
        """A theme by its name, its number, or another word for it. Raises NotFound."""
        rows = self.list(viewer)
        known = {r.name: Theme(r.name, use_for=r.use_for, labels=r.labels) for r in rows}
        wanted = preferred(name, known)
        found = next((r for r in rows if r.name == wanted or str(r.id) == name), None)
        if found is None:
            raise NotFound("There is no such theme in the thesaurus.", SEE)
        return found

    # -- writing -----------------------------------------------------------------------------------------------
    def read(self, viewer: Viewer, path: Path) -> int:
        """Read themes.csv (theme, broader, scope_note, words, and if there: use_for, related, labels), whole or not at all. Returns how many rows."""
        need(viewer, *EDITORS)
        return self._read(viewer, Sheet(path, ("theme", "broader", "scope_note", "words"), key=("theme",)))

    def write(self, viewer: Viewer, typed: Mapping[str, str], was: str = "") -> None:
        """Add a theme, or correct it, by the columns of its sheet. `was`: its name before; then it is renamed first. Raises SheetError."""
        name = typed.get("theme", "").strip()
        if was and was != name:
            self._rename_and_write(viewer, was, name, typed)
        else:
            self._read(viewer, Sheet(Typed(typed), ("theme",), key=("theme",)))

    def _rename_and_write(self, viewer: Viewer, was: str, name: str, typed: Mapping[str, str]) -> None:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._rename(connection, viewer, was, name)
            before = was if was.casefold() != name.casefold() else ""
            sheet = Sheet(Typed({**typed, "use_for": "; ".join(filter(None, (typed.get("use_for", ""), before)))}), ("theme",))
            self._keep_rows(connection, viewer, sheet)

    def _read(self, viewer: Viewer, sheet: Sheet) -> int:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            return self._keep_rows(connection, viewer, sheet)

    def _keep_rows(self, connection: Connection, viewer: Viewer, sheet: Sheet) -> int:
        before = themes.everything(connection)
        rows = {row.needed("theme"): row for row in sheet}
        changed = {name: _of_row(row, before.get(name)) for name, row in rows.items() if name}
        for fault in faults(_with_both_ways(before, changed)):
            row = rows.get(fault.theme)
            if row is not None:
                row.fault(f"“{fault.theme}”: {fault.words}")
            else:
                sheet.faults.append(f"“{fault.theme}”: {fault.words}" if fault.theme else fault.words)
        sheet.done()
        themes.write(connection, changed.values())
        audit.record(connection, viewer.name, "themes read", "sheet", self._rooms.now(), rows=len(rows))
        return len(rows)

    def rename(self, viewer: Viewer, name: str, new: str) -> None:
        """Give a theme another name: what is tagged with it follows, and the old name is kept as another word for it."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._rename(connection, viewer, name, new.strip())

    def _rename(self, connection: Connection, viewer: Viewer, name: str, new: str) -> None:
        before = themes.everything(connection)
        theme = self._named(before, name)
        name = theme.name
        if new == name:
            return
        use_for = tuple(u for u in theme.use_for if u != ("", new))
        if name.casefold() != new.casefold():
            use_for = (*use_for, ("", name))
        after = {n: t for n, t in before.items() if n != name}
        if new in after:
            raise Clash("There is a theme of this name already; nothing was changed.", "Merge the one into the other, or choose another name.")
        moved = {new: replace(theme, name=new, use_for=use_for), **{n: _renamed(t, name, new) for n, t in after.items()}}
        _must_be_whole(moved)
        themes.rename(connection, name, new)
        themes.write(connection, moved.values())
        self._move(connection, name, new, ("suggested", "confirmed", "rejected"))
        audit.record(connection, viewer.name, "theme renamed", "theme", self._rooms.now())

    def remove(self, viewer: Viewer, name: str) -> None:
        """Take a theme out. Raises Refused while a person confirmed it anywhere, or others are narrower than it."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            before = themes.everything(connection)
            theme = self._named(before, name)
            narrower = sorted(t.name for t in before.values() if t.broader == theme.name)
            confirmed = themes.decided_number(connection, theme.name).get("confirmed", 0)
            why = [f"{begin(many(confirmed, 'confirmed passage is', 'confirmed passages are'))} about it."] if confirmed else []
            why += [f"Narrower than it: {', '.join(narrower)}."] if narrower else []
            if why:
                raise Refused("This theme is in use; nothing was changed.", tuple(why), "Merge it into another theme: its passages follow.")
            themes.forget_suggestions(connection, theme.name)
            themes.remove(connection, theme.name)
            audit.record(connection, viewer.name, "theme removed", "theme", self._rooms.now())

    def merge(self, viewer: Viewer, name: str, into: str) -> int:
        """Make one theme a part of another: its name, its other words, its narrower ones and what is tagged with it follow. What was rejected
        for it stays on record under the old name. Returns in how many recordings something followed."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            before = themes.everything(connection)
            theme, target = self._named(before, name), self._named(before, into)
            if theme.name == target.name:
                raise BadInput("A theme cannot be merged into itself.", "Choose another one.")
            after = {n: _renamed(t, theme.name, target.name) for n, t in before.items() if n != theme.name}
            after[target.name] = _together(after[target.name], theme)
            _must_be_whole(after)
            themes.write(connection, after.values())
            touched = self._move(connection, theme.name, target.name, ("suggested", "confirmed"))
            themes.remove(connection, theme.name)
            audit.record(connection, viewer.name, "themes merged", "theme", self._rooms.now(), recordings=touched)
        return touched

    def _named(self, known: Mapping[str, Theme], name: str) -> Theme:
        found = known.get(preferred(name, known))
        if found is None:
            raise NotFound("There is no such theme in the thesaurus.", SEE)
        return found

    def _move(self, connection: Connection, name: str, new: str, states: Sequence[str]) -> int:
        touched = themes.move_tags(connection, name, new, states)
        for recording_id in sorted(touched):
            index_tags(connection, recording_id, self._rooms.context())
        return len(touched)

    # -- SKOS --------------------------------------------------------------------------------------------------
    def read_skos(self, viewer: Viewer, data: bytes, name: str, only: str = "") -> SkosRead:
        """Read themes from SKOS (Turtle, RDF/XML or JSON-LD by `name`'s ending), whole or not at all. `only`: one concept with its narrower
        ones. What is on record and not in it stays. Raises BadInput; SheetError with every fault."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            before, uris = themes.everything(connection), themes.uris(connection)
            found = skos.read(data, name, self._rooms.options.language, {uri: n for n, uri in uris.items()}, only)
            # A concept that is here under another name by now is renamed, and its old name stays another word for it.
            for uri, new in found.names.items():
                old = next((n for n, u in uris.items() if u == uri and n != new), "")
                if old and new not in before and not found.faults:
                    self._rename(connection, viewer, old, new)
            before = themes.everything(connection)
            changed = {t.name: _added(t, before.get(t.name)) for t in found.themes}
            wrong = [*found.faults, *faults(_with_both_ways(before, changed))]
            if wrong:
                said = [f"“{f.theme}”: {f.words}" if f.theme else f.words for f in wrong]
                more = [f"And {len(said) - _MOST_FAULTS:,} more."] if len(said) > _MOST_FAULTS else []
                raise SheetError(f"{name} has {many(len(said), 'fault')}.", (*said[:_MOST_FAULTS], *more), _NOTHING_TAKEN)
            themes.write(connection, changed.values(), {n: uri for uri, n in found.names.items()})
            audit.record(connection, viewer.name, "themes read", "SKOS", self._rooms.now(), rows=len(changed))
        return SkosRead(len(changed), found.left_out)

    def read_skos_file(self, viewer: Viewer, path: Path, only: str = "") -> SkosRead:
        """`read_skos` of a file."""
        need(viewer, *EDITORS)
        try:
            if path.stat().st_size > skos.MAX_BYTES:
                raise BadInput(f"{path.name} is larger than {skos.MAX_BYTES // 1_000_000} MB.", "Take a part of it, and read that.")
            data = path.read_bytes()
        except OSError:
            raise BadInput(f"{path.name} cannot be opened.", "Check the name and try again.") from None
        return self.read_skos(viewer, data, path.name, only)

    def write_skos_file(self, viewer: Viewer, path: Path) -> SkosWritten:
        """`write_skos` into a new file, by its ending. Raises Clash where there is one."""
        form = next((f for f, (ending, _) in written.FORMS.items() if path.suffix == f".{ending}"), "")
        if path.exists():
            raise Clash("There is a file of this name already.", "Choose another name.")
        made = self.write_skos(viewer, form)
        path.write_bytes(made.data)
        return made

    def write_skos(self, viewer: Viewer, form: str) -> SkosWritten:
        """The thesaurus as SKOS in one of `render.skos.FORMS`, on record. Raises Refused where a name on record stands in it."""
        need(viewer, *EDITORS)
        if form not in written.FORMS:
            raise BadInput("There is no such form of SKOS here.", f"Use one of: {', '.join(written.FORMS)}.")
        with self._rooms.db.write() as connection:
            listed, readings = themes.everything(connection), Readings(connection, self._rooms.context())
            naming = [t.name for t in listed.values() if holds_a_name(readings, [t.name, t.scope_note, *(x for _, x in (*t.use_for, *t.labels))])]
            if naming:
                raise Refused(
                    "The name of somebody on record stands in the thesaurus; nothing was written.",
                    tuple(f"Theme number {r.id}." for r in describing.themes(connection) if r.name in naming),
                    "Take the name out of the theme’s name, note and other words, then write it again.",
                )
            open_words = {n: tuple(w for w in t.words if not holds_a_name(readings, [w])) for n, t in listed.items()}
            scheme = facts.get_fact(connection, _SCHEME)
            if not scheme:
                scheme = themes.new_uri()
                facts.set_fact(connection, _SCHEME, scheme)
            audit.record(connection, viewer.name, "thesaurus written", "themes", self._rooms.now(), form=form, themes=len(listed))
            uris = themes.uris(connection)
        told = [replace(t, words=open_words[n]) for n, t in listed.items()]
        left_out = sum(len(t.words) - len(open_words[n]) for n, t in listed.items())
        return SkosWritten(written.write(told, uris, scheme, self._rooms.options.name, self._rooms.options.language, form), left_out)


def _of_row(row: Row, before: Theme | None) -> Theme:
    """A theme as its row has it; a column that the sheet does not have leaves what is there."""
    theme = before or Theme(row["theme"])
    given = row.sheet.columns
    values: dict[str, object] = {
        "broader": row["broader"], "scope_note": row["scope_note"], "words": tuple(dict.fromkeys(row.list("words"))),
        "use_for": _labels(row, "use_for"), "labels": _labels(row, "labels"), "related": tuple(dict.fromkeys(row.list("related"))),
    }  # fmt: skip
    return replace(theme, **{name: value for name, value in values.items() if name in given})  # type: ignore[arg-type]


def _labels(row: Row, column: str) -> tuple[tuple[str, str], ...]:
    """The cell's labels: "inundation; pl: zalanie"; in “labels” each has its language."""
    found = []
    for part in row.list(column):
        match = _WITH_LANGUAGE.fullmatch(part)
        try:
            found.append((languages.tag(match[1]), match[2]) if match else ("", part))
        except BadInput as error:
            row.fault(f"“{column}”: {error.message} {error.remedy}")
        if column == "labels" and not match:
            row.fault(f"“{part}” in “labels” has no language. Write it as pl: powódź.")
    return tuple(dict.fromkeys(found))


def _with_both_ways(before: Mapping[str, Theme], changed: Mapping[str, Theme]) -> dict[str, Theme]:
    """All themes as they would be: what is changed says what it is related to; others lose and keep it accordingly."""
    after = {**before, **changed}
    for name, theme in before.items():
        if name not in changed:
            kept = tuple(r for r in theme.related if r not in changed or name in changed[r].related)
            after[name] = replace(theme, related=kept)
    return after


def _added(new: Theme, before: Theme | None) -> Theme:
    """A theme that SKOS brings, with the words, other words and relations that it has here already."""
    if before is None:
        return new
    return replace(
        new, broader=new.broader or before.broader, scope_note=new.scope_note or before.scope_note,
        words=tuple(dict.fromkeys((*before.words, *new.words))),
        use_for=tuple(dict.fromkeys((*before.use_for, *new.use_for))),
        labels=tuple({**dict(before.labels), **dict(new.labels)}.items()) if len(dict(new.labels)) == len(new.labels) else new.labels,
        related=tuple(dict.fromkeys((*before.related, *new.related))),
    )  # fmt: skip


def _renamed(theme: Theme, name: str, new: str) -> Theme:
    """A theme beside one that is called otherwise from now on."""
    related = tuple(dict.fromkeys(new if r == name else r for r in theme.related))
    return replace(theme, broader=new if theme.broader == name else theme.broader, related=tuple(r for r in related if r != theme.name))


def _together(target: Theme, theme: Theme) -> Theme:
    """The theme that is left of two, with all words of both."""
    mine = {("", target.name.casefold()), *((lang, text.casefold()) for lang, text in target.labels)}
    labels = (*theme.labels, ("", theme.name), *theme.use_for)
    others = dict.fromkeys(u for u in (*target.use_for, *labels) if (u[0], u[1].casefold()) not in mine)
    beside = {target.name, theme.name, target.broader}
    return replace(
        target, words=tuple(dict.fromkeys((*target.words, *theme.words))), use_for=tuple(others),
        broader="" if target.broader in (theme.name, target.name) else target.broader,
        related=tuple(dict.fromkeys(r for r in (*target.related, *theme.related) if r not in beside)),
    )  # fmt: skip


def _must_be_whole(after: Mapping[str, Theme]) -> None:
    wrong: Iterable[Fault] = faults(after)
    said = tuple(f"“{f.theme}”: {f.words}" for f in wrong)
    if said:
        raise Refused("The thesaurus would not hold together; nothing was changed.", said, "Change that first.")
