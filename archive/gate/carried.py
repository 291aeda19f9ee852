"""A new version of a transcript, and with it every decision about names: the one way in which versions are written.

Decisions are about stretches, and another transcript has its words elsewhere. Those of the version before are carried forward
as rows of their own when a version is written; those of today are looked up in older versions that excerpts pin, when read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from archive.db import audit, by_hand, mentions, translations, words
from archive.db.mentions import Mention
from archive.db.session import Connection
from archive.db.words import Line
from archive.domain.masking import tells_hidden_words
from archive.domain.values import Decision, Stretch
from archive.rules.carrying import Carried, Carrying, Said

MACHINE = "machine"
CARRIED = "carried from another transcript"
MAY_BE = "may be what is hidden in another transcript"
LOST = "hidden in another transcript; its words were not found in this one, so it is hidden around where they were"
OTHERWISE = "decided in another transcript, which has other words here"
_STRENGTH = {Decision.UNDECIDED: 1, Decision.HIDE: 2}  # of two about the same words the more careful one counts


def keep_version(
    connection: Connection, recording_id: int, kind: str, lines: Sequence[Line], run_id: int | None, by: str, at: str,
    since: int | None = None, beside: bool = False,
) -> int:  # fmt: skip
    """Write a new version and carry to it what was decided in the one before; returns its id. The caller describes and indexes.

    `beside`: it is kept as it was heard and is nobody's today: another one follows in this very transaction, and what was decided
    is carried to that one from the version `since`.
    """
    before = since if since is not None else words.newest_version(connection, recording_id)
    made = words.write_version(connection, recording_id, kind, lines, run_id, by, at)
    if before is not None and not beside:
        old, new = (Said([w for u in words.utterances(connection, v) for w in u.words]) for v in (before, made))
        _carry_translations(connection, recording_id, old, new)
        _carry_passages(connection, recording_id, old, new)
        rows = _to_add(mentions.current(connection, recording_id), old, new, at)
        for m in rows:
            mentions.decide(connection, m.stretch, m.person_id, m.decision, m.how, m.by, m.at, m.kind, m.rule, m.instead)
        if rows:
            audit.record(connection, MACHINE, "names carried", f"recording {recording_id}", at, version=made, stretches=len(rows))
    return made


def _carry_translations(connection: Connection, recording_id: int, old: Said, new: Said) -> None:
    """Translations stand beside the words they are of, wherever these are now. Who wrote them, and of which words, stays with them.

    Where some of these words are not there any more, it keeps its old stretch as well: what closed them closes their translation.
    """
    known = translations.current(connection, [recording_id])
    if not known or old.words == new.words:
        return
    carrying = Carrying(old, new)
    for row in known:
        before = (row.start_ms, row.end_ms)
        now = carrying.stands(*before)
        if new.spoken(*now) != old.spoken(*before):
            now = (min(now[0], before[0]), max(now[1], before[1]))
        hidden = carrying.followed(row.hidden, before, now) if row.hidden is not None else None
        if (*now, hidden) != (*before, row.hidden):
            kept = {k: v for k, v in row._mapping.items() if k not in ("id", "start_ms", "end_ms", "hidden")}
            translations.add(connection, **kept, start_ms=now[0], end_ms=now[1], hidden=hidden)


def _carry_passages(connection: Connection, recording_id: int, old: Said, new: Said) -> None:
    """Passages that a person made stand from what their first word is now to what their last one is."""
    known = by_hand.ever(connection, recording_id)
    if not known or old.words == new.words:
        return
    carrying = Carrying(old, new)
    for row in known:
        now = carrying.stands(row.start_ms, row.end_ms)
        if now != (row.start_ms, row.end_ms):
            by_hand.move(connection, row.id, *now)


def _to_add(current: Sequence[Mention], old: Said, new: Said, at: str) -> list[Mention]:
    """What has to go on record with a new version: decisions at their words' new places, and what is not the same any more."""
    if old.words == new.words:
        return []
    known = {(m.stretch, m.person_id): m for m in current}
    found = moved([m for m in current if old.fits(m.stretch.start_ms, m.stretch.end_ms)], old, new)
    for key, m in known.items():  # what may be read, where by chance other words stand now between the very same edges
        stretch = (m.stretch.start_ms, m.stretch.end_ms)
        if m.decision.shows and key not in found and new.fits(*stretch) and old.spoken(*stretch) != new.spoken(*stretch):
            found[key] = replace(m, decision=Decision.UNDECIDED, by=MACHINE, rule=OTHERWISE, how="", instead="")
    made = [replace(m, at=at) if m.decision == Decision.UNDECIDED else m for m in found.values()]
    return [m for m in made if _told(m) != _told(known.get((m.stretch, m.person_id)))]


def _told(mention: Mention | None) -> tuple[Decision, str] | None:
    return (mention.decision, mention.instead) if mention is not None else None


def moved(known: Iterable[Mention], old: Said, new: Said) -> dict[tuple[Stretch, int | None], Mention]:
    """Decisions about the words of one transcript as they count in the other, by stretch and person.

    Who decided it and when stay with a decision: what was cleared before its person's newest wish is not cleared anew.
    """
    carrying = Carrying(old, new)
    found: dict[tuple[Stretch, int | None], Mention] = {}
    doubtful: list[Mention] = []
    for m in known:
        stretch = (m.stretch.start_ms, m.stretch.end_ms)
        for one in (carrying.shown if m.decision.shows else carrying.hidden)(*stretch):
            made = _at(m, one, new)
            if one.kept:
                _put(found, made)
            else:
                doubtful.append(made)
    under = [(m.stretch.start_ms, m.stretch.end_ms) for m in found.values() if not m.decision.shows]
    for made in doubtful:
        inside = any(s <= made.stretch.start_ms and made.stretch.end_ms <= e for s, e in under)
        if not inside or made.rule == LOST:
            _put(found, made)
    return found


def _put(found: dict[tuple[Stretch, int | None], Mention], made: Mention) -> None:
    key = (made.stretch, made.person_id)
    if key not in found or _STRENGTH.get(made.decision, 0) >= _STRENGTH.get(found[key].decision, 0):
        found[key] = made


def _at(mention: Mention, one: Carried, new: Said) -> Mention:
    stretch = Stretch(mention.stretch.recording_id, one.start_ms, one.end_ms)
    if one.kept:
        rule = mention.rule if CARRIED in mention.rule else "; ".join(filter(None, (mention.rule, CARRIED)))
        said = " ".join(new.words[n].text for n in new.touched(one.start_ms, one.end_ms))
        own = "" if tells_hidden_words(mention.instead, said) else mention.instead
        return replace(mention, stretch=stretch, rule=rule, instead=own)
    rule = LOST if one.lost else OTHERWISE if mention.decision.shows else MAY_BE
    return replace(mention, stretch=stretch, decision=Decision.UNDECIDED, by=MACHINE, rule=rule, how="", instead="")


def counting(current: Sequence[Mention], said: Said, today: tuple[Sequence[Mention], Said] | None = None) -> list[Mention]:
    """Of everything on record about a recording what is about the words of this transcript, in time order.

    `today`: what counts in today's transcript, and its words, where this is an older one: decided there, it counts here too.
    """
    own = {(m.stretch, m.person_id): m for m in current if said.fits(m.stretch.start_ms, m.stretch.end_ms)}
    if today is not None:
        there, now = today
        for key, m in own.items():  # decided about other words between the very same edges
            stretch = (m.stretch.start_ms, m.stretch.end_ms)
            if m.decision.shows and now.fits(*stretch) and now.spoken(*stretch) != said.spoken(*stretch):
                own[key] = replace(m, decision=Decision.UNDECIDED, rule=OTHERWISE)
        for key, m in moved(there, now, said).items():
            if m.decision != Decision.UNDECIDED or key not in own or own[key].decision.shows:
                own[key] = m
    return sorted(own.values(), key=lambda m: m.stretch)
