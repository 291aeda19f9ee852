"""Decisions that can be read: may a person's speech, an excerpt or a stretch be used so, today or on another day, why, and what would change it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date

from archive.db import consent_rows, excerpts, people, reach, recordings, uses
from archive.db.session import Connection
from archive.domain import consent, phrases
from archive.domain.agreements import Asked, Standing
from archive.domain.consent import Decision, explain
from archive.domain.contradictions import contradictions
from archive.domain.reasons import change
from archive.domain.values import USES, Stretch, Use, Viewer, Way
from archive.errors import NotFound
from archive.gate.explained import TOGETHER, interpreters_of, of_excerpt, of_stretch
from archive.gate.pinned import Pinned
from archive.gate.reading import Context, Readings
from archive.gate.surroundings import QUESTION, around_all, show_leaving, together
from archive.services.reaching import person_of
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import Allowed, MayAnswer, ReasonRow, UseLine

ASK_KEEPER = "A keeper knows more."
_ANY_USE = USES[0]  # stands in a question until the use that is asked for is put there
Decide = Callable[[Use, Way], Decision]


@dataclass(frozen=True, slots=True)
class Cell:
    """The answer for one way. `rests`: on which agreements a yes rests, and whose answers they are; `next_on`: when it could change."""

    way: str
    allowed: bool
    disguised: bool
    reasons: tuple[ReasonRow, ...]
    conditions: tuple[str, ...]
    rests: tuple[str, ...]
    next_on: date | None

    @property
    def words(self) -> str:
        """The answer with its first reason."""
        if self.allowed:
            return "yes, disguised" if self.disguised else "yes"
        return f"no: {self.reasons[0].words}"


@dataclass(frozen=True, slots=True)
class Line:
    """One use in its three ways."""

    use: str
    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """The answers in these interviews, of one person heard, or of all of them together."""

    about: tuple[str, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Uses × ways for a target on a day. `kind`: person, excerpt or stretch; `notes`: what somebody should look at first."""

    target: str
    kind: str
    on: date
    groups: tuple[Group, ...]
    notes: tuple[str, ...]
    interpreted: bool = False  # an interpreter's words


class Deciding:
    """The decisions of one archive, explained."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def may(self, viewer: Viewer, target: str, use: str, way: Way, on: date | None = None) -> MayAnswer:
        """May this excerpt (EX-1), stretch (TW-01.1@1:16-1:25) or all of a person (N-05) be used so, today or on that day? In sentences."""
        need(viewer, *EDITORS)
        context = self._context(on)
        with self._rooms.db.read() as connection:
            asked = consent_rows.load_use(connection, use)
            person = person_of(connection, viewer, target)
            if person is not None:
                standing = consent_rows.load_standings(connection, [person.id])[person.id]
                decision = consent.merge([decide(asked, way) for decide in _by_interview(connection, standing, context).values()])
            else:
                readings = Readings(connection, context)
                found = _each(readings, target, asked, way)
                _must_reach(readings, viewer, found)
                decision = found[TOGETHER]
            around = self._around(connection, viewer, target)
        return replace(answer(decision, viewer), around=around, reasons=_reasons(decision, viewer))

    def table(self, viewer: Viewer, target: str, on: date | None = None) -> Table:
        """Every use in every way with all reasons, what each rests on, what would change it and when it next could; for an excerpt or a
        stretch of all who are heard together, and of each of them."""
        need(viewer, *EDITORS)
        context = self._context(on)
        with self._rooms.db.read() as connection:
            every = uses.every_use(connection).values()
            person = person_of(connection, viewer, target)
            if person is not None:
                standing = consent_rows.load_standings(connection, [person.id])[person.id]
                groups = by_interview(connection, viewer, standing, every, context)
                return Table(target, "person", context.on, groups, tuple(contradictions(standing, context.on)))
            readings = Readings(connection, context)
            answers = {(u.code, way): _each(readings, target, u, way) for u in every for way in Way}
            heard = dict.fromkeys(who for found in answers.values() for who in found)
            _must_reach(readings, viewer, heard)
            standings = consent_rows.load_standings(connection, [who for who in heard if who != TOGETHER])
            groups = tuple(
                Group((standings[who].code,) if who != TOGETHER else (), _lines(viewer, every, lambda u, w, who=who: answers[u.code, w].get(who, _NOT_HEARD)))  # type: ignore[misc]
                for who in sorted(heard, key=lambda who: (who != TOGETHER, who))
            )  # fmt: skip
            notes = [note for s in standings.values() for note in contradictions(s, context.on)]
            row = excerpts.by_code(connection, target)
            interpreted = row is not None and bool(interpreters_of(readings, row))
        return Table(target, "excerpt" if row is not None else "stretch", context.on, groups, tuple(notes), interpreted)

    def _context(self, on: date | None) -> Context:
        context = self._rooms.context()
        return replace(context, on=on) if on is not None else context

    def _around(self, connection: Connection, viewer: Viewer, target: str) -> tuple[str, ...]:
        """What stands around an excerpt in which something is hidden, and the question to ask of it; () of anything else."""
        row = excerpts.by_code(connection, target)
        if row is None:
            return ()
        readings = Readings(connection, self._rooms.context())
        around = around_all(readings, self._rooms.options.name, self._rooms.options.mute_margin_ms)
        leaving = show_leaving(readings, viewer, Pinned(readings, row), around)
        return (*leaving.hidden, *together(leaving), QUESTION) if leaving is not None and leaving.hidden else ()


_NOT_HEARD = consent.merge([])


def _each(readings: Readings, target: str, use: Use, way: Way) -> dict[int, Decision]:
    """The decision that the gate itself would take, under `TOGETHER`, and the share of each person heard. Raises NotFound."""
    row = excerpts.by_code(readings.connection, target)
    if row is not None:
        return of_excerpt(readings, row, use.code, way)
    return of_stretch(readings, stretch_named(readings.connection, target), use.code, way)


def _must_reach(readings: Readings, viewer: Viewer, heard: Iterable[int]) -> None:
    """Raises NotFound where somebody heard is not to be opened by this account."""
    if reach.of(readings.connection, viewer).people.intersection(heard):
        raise NotFound("There is no such excerpt, stretch or person.")


def _by_interview(connection: Connection, standing: Standing, context: Context) -> dict[str, Decide]:
    """interview code → the decision about all that somebody says in it, before what a single stretch or wording may change. "": they are
    in none."""
    taken = {r.id: r.code for r in people.interviews_of(connection, standing.person_id)}
    papers = {a.interview_id for a in standing.agreements if a.interview_id is not None} - taken.keys()
    taken |= {r.id: r.code for r in recordings.interviews(connection) if r.id in papers} if papers else {}
    policy = consent_rows.load_policy(connection, context.cooling_off_days)
    over = recordings.interviews_over(connection, taken)
    wanted: list[tuple[int | None, str]] = sorted(taken.items(), key=lambda pair: pair[1])

    def deciding(interview_id: int | None) -> Decide:
        asked = Asked(
            Stretch(0, 0, 1), interview_id, _ANY_USE, Way.WORDS, context.on, context.exhibition, interviewed_on=over.get(interview_id or 0)
        )  # fmt: skip
        return lambda use, way: consent.decide(replace(asked, use=use, way=way), (standing,), policy)

    return {code: deciding(interview_id) for interview_id, code in wanted or [(None, "")]}


def by_interview(connection: Connection, viewer: Viewer, standing: Standing, every: Collection[Use], context: Context) -> tuple[Group, ...]:
    """Use by use for a person; interviews with the same answers stand together."""
    grouped: dict[tuple[Line, ...], list[str]] = {}
    for code, decide in _by_interview(connection, standing, context).items():
        grouped.setdefault(_lines(viewer, every, decide), []).extend([code] if code else [])
    return tuple(Group(tuple(codes), lines) for lines, codes in grouped.items())


def allowed(groups: Iterable[Group]) -> tuple[Allowed, ...]:
    """The same, each answer with its first reason only."""
    return tuple(Allowed(g.about, tuple(UseLine(n.use, n.label, *(c.words for c in n.cells)) for n in g.lines)) for g in groups)


def _lines(viewer: Viewer, every: Collection[Use], decide: Decide) -> tuple[Line, ...]:
    return tuple(Line(u.code, u.label, tuple(_cell(viewer, way, decide(u, way)) for way in Way)) for u in every)


def _cell(viewer: Viewer, way: Way, decision: Decision) -> Cell:
    duties = decision.duties
    conditions = tuple(f"{c.person_code}: {c.words} ({c.cites})" for c in duties.conditions)
    return Cell(
        way.value, decision.allowed, decision.allowed and duties.disguise, _reasons(decision, viewer), conditions, duties.agreements, decision.recheck_on
    )


def _reasons(decision: Decision, viewer: Viewer) -> tuple[ReasonRow, ...]:
    """Every reason that this viewer is told (`consent.told`), with what would change it."""
    rows = {r.words: ReasonRow(r.words, r.person_code or "", r.cites, change(r)) for r in decision.reasons}
    return tuple(rows.get(words) or ReasonRow(words, "", "", ASK_KEEPER) for words in consent.told(decision.reasons, viewer.role))


def answer(decision: Decision, viewer: Viewer) -> MayAnswer:
    """A decision for a person: sentences, duties, the day to ask again."""
    duties = tuple(explain(consent.Decision(True, (), decision.duties))[1:])
    return MayAnswer(
        decision.allowed, tuple(explain(decision, viewer.role)), duties, decision.recheck_on, decision.duties.disguise
    )


def stretch_named(connection: Connection, target: str) -> Stretch:
    """A stretch from its written form (TW-01.1@1:16-1:25, or in ms). Raises NotFound, also where the recording is shorter."""
    if "@" not in target:
        raise NotFound("There is no such excerpt, stretch or person.", "Name an excerpt (EX-1), a stretch (TW-01.1@1:16-1:25) or a person (N-05).")
    return stretch_within(connection, *phrases.stretch(target))


def stretch_within(connection: Connection, code: str, start_ms: int, end_ms: int) -> Stretch:
    """A stretch of a recording that it really has: past its end nothing can be asked, held or closed."""
    recording = recordings.named(connection, code)
    if end_ms > recording.duration_ms:
        raise NotFound("The recording ends before that.", f"It lasts until {phrases.exact(recording.duration_ms)}.")
    return Stretch(recording.id, start_ms, end_ms)
