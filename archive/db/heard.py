"""Who is heard in what is found, and what they were: read for each question, counted by voicing."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection, and_, func, select

from archive.db.columns import Columns, Ints, Mask, ints
from archive.db.decided import Known
from archive.db.tables import participation, person, voicing, voicing_person
from archive.domain.crowd import Member, may_be_found
from archive.domain.dates import decades
from archive.domain.spans import Span, span_of

Counted = dict[str, tuple[tuple[str, int], ...]]


@dataclass(frozen=True, slots=True)
class Traits:
    """What somebody heard was: born in a span, of a sex as it is on record, taking part in a role. What is empty is not asked."""

    born: Span | None = None
    sex: str = ""
    role: str = ""


class Heard:
    """People by the voicings that they are heard in. `named`: see db/search.Filters; None: whoever asks knows everybody."""

    def __init__(
        self, connection: Connection, columns: Columns, decided: Known, visible: Mask, asked: tuple[Hashable, ...], named: frozenset[int] | None
    ) -> None:  # fmt: skip
        self._connection, self._columns, self._decided = connection, columns, decided
        self._visible, self._asked, self._named = visible, asked, named

    def with_person(self, person_id: int) -> Ints:
        """The voicings in which somebody is heard."""
        heard = select(func.group_concat(voicing_person.c.voicing_id)).where(voicing_person.c.person_id == person_id)
        return ints(self._connection.execute(heard).scalar())

    def with_traits(self, traits: Traits) -> Ints:
        """The voicings in which somebody is heard who was all of this and may be found by it."""
        return self._voicings(m for m in self._findable if self._was(m, traits))

    def counts(self, hits: npt.NDArray[np.int64]) -> Counted:
        """How many of the units found (`hits`: by voicing) have each speaker, by code, and each thing that speakers were."""
        said = self._rows
        inside = said.voicing_id < len(hits)
        pairs = np.unique(np.stack([said.voicing_id[inside], said.person_id[inside]], 1), axis=0) if inside.any() else np.empty((0, 2), np.int32)
        per_person = np.bincount(pairs[:, 1], weights=hits[pairs[:, 0]]).astype(np.int64)
        speakers = sorted((self._people[p].code, int(per_person[p])) for p in self._narrators if p < len(per_person) and per_person[p])
        return {
            "speaker": tuple(speakers),
            "born": self._counted(hits, {m: [f"{d}" for d in m.decades] for m in self._findable if self._named is None or len(m.decades) == 1}),
            "sex": self._counted(hits, {m: [m.sex] for m in self._findable if m.sex}),
            "role": self._counted(hits, {m: [m.role] for m in self._findable if m.role}),
        }

    def _counted(self, hits: npt.NDArray[np.int64], values: dict[Member, list[str]]) -> tuple[tuple[str, int], ...]:
        having: dict[str, list[Member]] = {}
        for member, some in values.items():
            for value in some:
                having.setdefault(value, []).append(member)
        counted = []
        for value, members in sorted(having.items()):
            heard = self._voicings(members)
            number = int(hits[heard[heard < len(hits)]].sum())
            if number:
                counted.append((value, number))
        return tuple(counted)

    def _was(self, member: Member, traits: Traits) -> bool:
        if (traits.role and member.role != traits.role) or (traits.sex and member.sex.casefold() != traits.sex.casefold()):
            return False
        if traits.born is None:
            return True
        if self._named is None:
            born = self._people[member.person_id].born
            return bool(born) and span_of(born).overlaps(traits.born)
        whole = [Span(date(d, 1, 1).toordinal(), date(d + 9, 12, 31).toordinal()) for d in member.decades]
        return bool(whole) and all(traits.born.first <= s.first and s.last <= traits.born.last for s in whole)

    def _voicings(self, members: Iterable[Member]) -> Ints:
        """The voicings in which one of these is heard, each once."""
        keys = {(m.person_id, m.role) for m in members}
        chosen = [n for n, key in enumerate(self._rows.keys) if key in keys]
        return np.unique(self._rows.voicing_id[np.isin(self._rows.key, np.array(chosen, np.int64))])

    @property
    def _rows(self) -> _Rows:
        return self._decided.once("who is heard", self._read_rows)

    @property
    def _people(self) -> dict[int, _Person]:
        return self._decided.once("people", self._read_people)

    @property
    def _narrators(self) -> list[int]:
        return self._decided.once("narrators", self._read_narrators)

    @cached_property
    def _findable(self) -> tuple[Member, ...]:
        """Who may be found by what they were, of those in what may be found on this day."""
        return self._decided.once(("findable", *self._asked, self._named), self._who_may_be_found)

    def _read_rows(self) -> _Rows:
        """Who is heard in each voicing, in every role that they have in its interview."""
        role = func.coalesce(participation.c.role, "")
        joined = (
            voicing_person.join(voicing, voicing.c.id == voicing_person.c.voicing_id)
            .outerjoin(participation, and_(participation.c.interview_id == voicing.c.interview_id, participation.c.person_id == voicing_person.c.person_id))
        )  # fmt: skip
        query = select(role, func.group_concat(voicing_person.c.voicing_id), func.group_concat(voicing_person.c.person_id)).select_from(joined).group_by(role)
        said = [(str(name), ints(voicings), ints(people)) for name, voicings, people in self._connection.execute(query)]
        roles = [name for name, *_ in said]
        joined_up = [np.concatenate([s[n] for s in said]) if said else np.empty(0, np.int32) for n in (1, 2)]
        numbers = np.concatenate([np.full(len(s[1]), n, np.int64) for n, s in enumerate(said)]) if said else np.empty(0, np.int64)
        known, key = np.unique(joined_up[1].astype(np.int64) * (len(roles) or 1) + numbers, return_inverse=True)
        keys = tuple((int(k) // len(roles), roles[int(k) % len(roles)]) for k in known)
        return _Rows(joined_up[0], joined_up[1], key, keys)

    def _read_people(self) -> dict[int, _Person]:
        """Everybody on record: code, when they were born (EDTF, "") and their sex."""
        query = select(person.c.id, person.c.code, person.c.born, person.c.sex)
        return {r.id: _Person(r.code, r.born or "", r.sex) for r in self._connection.execute(query)}

    def _read_narrators(self) -> list[int]:
        """Whoever narrates anywhere."""
        return list(self._connection.execute(select(participation.c.person_id).where(participation.c.role == "narrator").distinct()).scalars())

    def _who_may_be_found(self) -> tuple[Member, ...]:
        """Who may be found by what they were: for who does not know everybody, of those in what they may find today."""
        rows = self._rows
        keys: Iterable[int] = range(len(rows.keys))
        if self._named is not None:
            there = np.bincount(self._columns.voicing_id[self._visible], minlength=int(rows.voicing_id.max(initial=0)) + 1) > 0
            keys = np.unique(rows.key[there[rows.voicing_id]]).tolist()
        members = [self._member(*rows.keys[n]) for n in keys]
        return tuple(members) if self._named is None else tuple(may_be_found(members, self._named))

    def _member(self, person_id: int, role: str) -> Member:
        known = self._people[person_id]
        return Member(person_id, role, tuple(decades(known.born)) if known.born else (), known.sex)


class _Person(NamedTuple):
    code: str
    born: str
    sex: str


class _Rows(NamedTuple):
    """A row a voicing, person and role: `key` is the place of (person, role) in `keys`."""

    voicing_id: Ints
    person_id: Ints
    key: npt.NDArray[np.int64]
    keys: tuple[tuple[int, str], ...]
