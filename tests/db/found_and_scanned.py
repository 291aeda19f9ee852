"""Find over random small histories beside a slow scan of every unit, which decides consent by domain/consent.py and reads words one by one.

Two tellings of the same: the scan knows no SQL, no FTS5 and no columns. Histories are those of test_permitted.py, with words, tags and people.
"""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, Engine, insert, text

from archive.db import tables as t
from archive.db.columns import Columns
from archive.db.heard import Traits
from archive.db.search import Filters, Narrowing, find
from archive.domain.agreements import Policy
from archive.domain.consent import judge
from archive.domain.dates import bounds, decades
from archive.domain.spans import asked_span
from archive.domain.values import USES, Way
from archive.rules.analysis import BOUNDARY, analyse
from archive.rules.questions import (
    And,
    Field,
    Near,
    Not,
    Nothing,
    Or,
    Phrase,
    Prefix,
    Query,
    Term,
    fields_of,
    parse_query,
)
from tests.db.test_permitted import BY, WEEK, Unit, World, settle

WORDS = ("rope", "quay", "strike", "striking", "seventy", "four", "74", "nineteen", "1968", "flood", "row", "net")
TOLD = ("1968", "1962-12/1963-02", "196X", "1974~", "../1970", "1955/1961")
BORN = ("1938", "1941", "1940/1944", "1939/1941", "", "1955")
QUESTIONS = (
    "", "rope", "striking", '"net row"', '"seventy four"', "74", "quay or flood", "rope not quay", "not strike", "str*", "rope within 2 of quay",
    "flood NEAR strike", 'place:"Net Row"', "rope or year:1968", "not (year:1962 or rope)", "theme:work flood", "(rope or quay) not place:Quay",
)  # fmt: skip
USE = {u.code: u for u in USES}


@dataclass(frozen=True)
class Said:
    """A unit with everything that Find can ask of it."""

    unit: Unit
    tokens: dict[str, tuple[tuple[str, ...], tuple[str, ...]]]  # wording → exact, stems
    tags: tuple[tuple[str, str, bool, bool], ...]  # kind (place, date, theme), value, shown, confirmed
    facts: dict[str, str]


def told(connection: Connection, world: World, rng: random.Random) -> list[Said]:
    """Insert the world, and give its units words, tags, facts and people that can be asked for."""
    for row in world.rows["_heard"]:
        row["stale"] = ""  # a voicing of before an agreement may hide what is open: test_permitted.py looks at these
    for n, row in enumerate(world.rows["person"]):
        row |= {"born": BORN[n % len(BORN)] or None, "sex": ("woman", "man", "")[n % 3]}
    units = settle(connection, world)
    parts = {(u.interview_id, s.person_id) for u in units for s in u.people}
    connection.execute(
        insert(t.participation), [{"interview_id": i, "person_id": p, "role": rng.choice(("narrator", "narrator", "interviewer"))} for i, p in sorted(parts)]
    )
    found = []
    for unit in units:
        spoken = [rng.choice(WORDS) for _ in range(rng.randint(2, 9))]
        masked = [w if rng.random() < 0.85 else BOUNDARY for w in spoken]
        tokens = {w: (analyse(" ".join(s)).exact if w == "full" else tuple(s), ()) for w, s in (("full", spoken), ("shown", masked))}
        tokens = {w: (exact, tuple(BOUNDARY if e == BOUNDARY else analyse(e).stem[0] for e in exact)) for w, (exact, _) in tokens.items()}
        facts = {"state": rng.choice(("machine", "corrected")), "language": rng.choice(("en", "cy")), "sound": rng.choice(("post", "listen", ""))}
        connection.execute(t.find_unit.update().where(t.find_unit.c.id == unit.id).values(**facts))
        lines = [" ".join(tokens[w][n]) for w in ("full", "shown") for n in (0, 1)]
        row = dict(zip(("full_exact", "full_stem", "shown_exact", "shown_stem"), lines, strict=True), unit_id=unit.id)
        connection.execute(insert(t.find_text).values(**row))
        connection.execute(text("INSERT INTO find_fts (rowid, full_exact, full_stem, shown_exact, shown_stem) VALUES (:unit_id, :full_exact, :full_stem, :shown_exact, :shown_stem)"), row)
        found.append(Said(unit, tokens, tuple(_tags(connection, unit, rng)), facts))
    connection.execute(insert(t.indexed).values(recording_id=0, revision=1))
    return found


def _tags(connection: Connection, unit: Unit, rng: random.Random) -> list[tuple[str, str, bool, bool]]:
    made = []
    for _ in range(rng.randint(0, 4)):
        kind = rng.choice(("place", "date", "theme"))
        value = rng.choice({"place": ("Net Row", "Quay"), "date": TOLD, "theme": ("work", "water")}[kind])
        shown, confirmed = rng.random() < 0.8, rng.random() < 0.4
        key = connection.execute(
            insert(t.tag).values(
                recording_id=unit.stretch.recording_id, start_ms=unit.stretch.start_ms, end_ms=unit.stretch.end_ms, kind=kind, value=value, evidence="x", rule="x", reckoning="x",
                sure=1.0, decades=[], state="confirmed" if confirmed else "suggested", **BY,
            )
        ).inserted_primary_key  # fmt: skip
        assert key is not None
        values = [("decade", str(d)) for d in decades(value)] if kind == "date" else [(kind, value)]
        connection.execute(insert(t.unit_tag), [{"unit_id": unit.id, "tag_id": key[0], "kind": k, "value": v, "shown": shown} for k, v in values])
        made.append((kind, value, shown, confirmed))
    return made


# --- the scan -----------------------------------------------------------------------------------------------------------


class Scan:
    """Everything read one by one."""

    def __init__(self, world: World, said: Sequence[Said], filters: Filters) -> None:
        self.f = filters
        self.people = {row["id"]: row for row in world.rows["person"]}
        self.roles: dict[tuple[int, int], set[str]] = defaultdict(set)
        self.visible = [s for s in said if self.may(s, filters.team.code, Way.WORDS, filters.on)]

    def may(self, said: Said, use: str, way: Way, on: date) -> bool:
        u = said.unit
        return judge(u.asked(USE[use], way, on, self.f.exhibition), u.people, self.f.policy).allowed

    def members(self, said: Said) -> set[tuple[int, str]]:
        return {(s.person_id, role) for s in said.unit.people for role in self.roles[said.unit.interview_id, s.person_id]}

    def findable(self, member: tuple[int, str]) -> bool:
        if self.f.named is None or member[0] in self.f.named:
            return True
        mine = self.group(member)
        alike = {p for s in self.visible for p, role in self.members(s) if p not in self.f.named and self.group((p, role)) == mine}
        return len(alike) >= 3

    def group(self, member: tuple[int, str]) -> tuple[object, ...]:
        row = self.people[member[0]]
        return (tuple(decades(row["born"])) if row["born"] else (), row["sex"], member[1])

    def tags(self, said: Said, confirmed: bool | None = None) -> set[tuple[str, str]]:
        only = self.f.confirmed if confirmed is None else confirmed
        return {(k, v) for k, v, shown, sure in said.tags if (shown or self.f.wording == "full") and (sure or not only)}

    def was(self, member: tuple[int, str], traits: Traits) -> bool:
        row = self.people[member[0]]
        if (traits.role and member[1] != traits.role) or (traits.sex and row["sex"] != traits.sex):
            return False
        if traits.born is None:
            return True
        if not row["born"]:
            return False
        if self.f.named is None:
            lower, upper = bounds(row["born"])
            return bool(lower and upper and lower.toordinal() <= traits.born.last and upper.toordinal() >= traits.born.first)
        return all(traits.born.first <= date(d, 1, 1).toordinal() and date(d + 9, 12, 31).toordinal() <= traits.born.last for d in decades(row["born"]))

    def narrowed(self, said: Said, to: Narrowing) -> bool:
        tags = self.tags(said)
        told_of = [bounds(v) for k, v in tags if k == "date"]
        return (
            (to.place is None or any(("place", v) in tags and (dates is None or not told_of or any(("date", d) in tags for d in dates)) for v, dates in to.place.items()))
            and (to.theme is None or any(("theme", v) in tags for v in to.theme))
            and (not to.decade or any(int(to.decade) in decades(v) for k, v in tags if k == "date"))
            and (to.told is None or any((lo is None or lo.toordinal() <= to.told.last) and (hi is None or hi.toordinal() >= to.told.first) for lo, hi in told_of))
            and (to.speaker_id is None or any(s.person_id == to.speaker_id for s in said.unit.people))
            and (to.traits is None or any(self.was(m, to.traits) and self.findable(m) for m in self.members(said)))
            and all(not getattr(to, name) or said.facts[name] == getattr(to, name) for name in ("language", "state", "sound"))
            and (not to.sound or self.may(said, self.f.team.code, Way.VOICE, self.f.on))
            and (to.recordings is None or said.unit.stretch.recording_id in to.recordings)
        )

    def fits(self, said: Said, query: Query) -> bool:
        exact, stems = said.tokens[self.f.wording]
        if isinstance(query, Term):
            return query.exact in exact if query.quoted else query.stem in stems
        if isinstance(query, Phrase):
            return any(exact[n : n + len(query.exact)] == query.exact for n in range(len(exact)))
        if isinstance(query, Prefix):
            return any(e.startswith(query.start) for e in exact)
        if isinstance(query, Near):
            at = [[n for n in range(len(stems)) if stems[n : n + len(side)] == side] for side in (query.first, query.second)]
            pairs = [sorted(((a, len(query.first)), (b, len(query.second)))) for a in at[0] for b in at[1]]
            return any(second[0] - (first[0] + first[1]) < query.apart for first, second in pairs)
        if isinstance(query, Field):
            return self.narrowed(said, self.f.fields[query])
        if isinstance(query, Not):
            return not self.fits(said, query.part)
        if isinstance(query, (And, Or)):
            return (all if isinstance(query, And) else any)(self.fits(said, p) for p in query.parts)
        return not isinstance(query, Nothing)

    def found(self, query: Query) -> list[Said]:
        usable = self.f.usable
        return [
            s for s in self.visible
            if self.fits(s, query) and self.narrowed(s, self.f.narrow) and (usable is None or self.may(s, usable[0].code, usable[1], usable[2]))
        ]  # fmt: skip

    def facets(self, found: Sequence[Said], narrators: set[int]) -> dict[str, dict[str, int]]:
        """Everything counted again, unit by unit."""
        counted: dict[str, Counter[str]] = defaultdict(Counter)
        for s in found:
            for kind, value in {("decade", str(d)) for k, v in self.tags(s) if k == "date" for d in decades(v)} | {x for x in self.tags(s) if x[0] != "date"}:
                counted[kind][value] += 1
            counted["speaker"].update({self.people[p.person_id]["code"] for p in s.unit.people if p.person_id in narrators})
            members = [m for m in self.members(s) if self.findable(m)]
            born = [decades(self.people[p]["born"]) for p, _ in members if self.people[p]["born"]]
            counted["born"].update({str(d) for some in born for d in some if self.f.named is None or len(some) == 1})
            counted["sex"].update({self.people[p]["sex"] for p, _ in members} - {""})
            counted["role"].update({role for _, role in members})
            counted["language"][s.facts["language"]] += 1
            counted["state"][s.facts["state"]] += 1
            if s.facts["sound"] and self.may(s, self.f.team.code, Way.VOICE, self.f.on):
                counted["sound"][s.facts["sound"]] += 1
            _, way, day = self.f.usable or (None, Way.WORDS, self.f.on)
            counted["usable_for"].update(u.code for u in self.f.uses if self.may(s, u.code, way, day))
        return {kind: dict(counted[kind]) for kind in ("place", "decade", "theme", "speaker", "born", "sex", "role", "language", "state", "sound", "usable_for")}


# --- side by side -------------------------------------------------------------------------------------------------------


def _filters(rng: random.Random, world: World, query: Query) -> Filters:
    people = [row["id"] for row in world.rows["person"]]
    narrowings = (
        {}, {}, {"place": {"Net Row": None}}, {"place": {"Net Row": ("1968", "1955/1961"), "Quay": None}}, {"decade": "1960"}, {"told": asked_span("1959–1962")}, {"theme": ("work", "water")}, {"speaker_id": rng.choice(people)},
        {"traits": Traits(born=asked_span("1940s"))}, {"traits": Traits(sex="woman", role="narrator")}, {"language": "cy", "state": "corrected"}, {"sound": "post"},
        {"recordings": frozenset(rng.sample(range(1, 9), 4))},
    )  # fmt: skip
    narrow: dict[str, object] = {}
    for chosen in rng.sample(narrowings, 2):
        narrow |= chosen
    values = {"place": lambda v: Narrowing(place={v: None}), "theme": lambda v: Narrowing(theme=(v,)), "year": lambda v: Narrowing(told=asked_span(v))}
    return Filters(
        wording=rng.choice(("full", "shown")), on=rng.choice(WEEK), exhibition="Marigold", policy=Policy(participation_covers_machine=True, cooling_off_days=14), team=USE["team"],
        usable=rng.choice((None, (USE["exhibition"], Way.WORDS, rng.choice(WEEK)), (USE["web"], Way.VOICE, rng.choice(WEEK)))), uses=(USE["exhibition"], USE["web"]),
        narrow=Narrowing(**narrow),  # type: ignore[arg-type]
        fields={f: values[f.name](f.value) for f in fields_of(query)}, confirmed=rng.random() < 0.3, order=rng.choice(("", "oldest", "interview", "newest")),
        named=rng.choice((None, frozenset(rng.sample(people, len(people) // 3)))),
    )  # fmt: skip


def compare(engine: Engine, world: World, seed: int, questions: int) -> Counter[str]:
    """Questions to one world, each beside the scan; what was compared."""
    rng, seen = random.Random(seed), Counter[str]()
    with engine.connect() as connection:
        connection.execute(insert(t.use), [{"code": u.code, "label": u.label, "inward": u.inward} for u in USES])
        connection.execute(text("CREATE VIRTUAL TABLE find_fts USING fts5(full_exact, full_stem, shown_exact, shown_stem, content='find_text', content_rowid='unit_id', tokenize='unicode61 remove_diacritics 0')"))
        said = told(connection, world, rng)
        roles = list(connection.execute(t.participation.select()))
        kept = Columns()
        for n in range(questions):
            words = QUESTIONS[(seed + n) % len(QUESTIONS)]
            query = parse_query(words)
            filters = _filters(rng, world, query)
            answer = find(connection, query, filters, 10_000, 0, kept)
            scan = Scan(world, said, filters)
            for row in roles:
                scan.roles[row.interview_id, row.person_id].add(row.role)
            scanned = scan.found(query)
            assert {u.id for u in answer.units} == {s.unit.id for s in scanned} and answer.total == len(scanned) == len(answer.units), (words, filters)
            facets = scan.facets(scanned, {r.person_id for r in roles if r.role == "narrator"})
            assert {kind: dict(values) for kind, values in answer.facets.items()} == facets, (words, filters)
            for kind in ("place", "theme"):
                sure = Counter(v for s in scanned for k, v in scan.tags(s, confirmed=True) if k == kind)
                assert dict(answer.confirmed[kind]) == dict(sure), (words, filters)
            seen["questions"] += 1
            seen["units"] += len(said)
            seen["found"] += len(scanned)
        connection.rollback()
        connection.execute(text("DROP TABLE IF EXISTS find_fts"))
        connection.commit()
    return seen



