"""The rule of consent told a third time, from DESIGN §5 and the text of issue 7 alone: slowly, row by row, and without a line of the
product's own code. It answers yes or no for what somebody finds, where no exact wording is meant.

What the two texts leave open is the project's choice as DEVELOPERS.md has it, and says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Any

Fact = Mapping[str, Any]
STAYS_IN = {"machine", "team", "reading_room", "transfer"}  # DESIGN §5's uses that go to nobody outside: quotes need no review for them
OWN_EARS = {"machine", "team"}  # project choice: a wish about the voice, and a work's owner, speak of everybody else


class Third:
    """All facts of one archive, as rows."""

    def __init__(self, rows: Mapping[str, list[dict[str, Any]]]) -> None:
        self.rows = {name: list(some) for name, some in rows.items()}
        self.answers: dict[int, list[Fact]] = {}
        for row in self._all("permission"):
            self.answers.setdefault(row["agreement_id"], []).append(row)

    def _all(self, table: str) -> list[dict[str, Any]]:
        return self.rows.get(table, [])

    def says_yes(self, people: Iterable[int], place: tuple[int, int, int, int], use: str, way: str, day: date, exhibition: str, form_covers: bool, pause: int) -> bool:
        """`place`: interview, recording, start, end (ms). `form_covers`: the participation form covers our own computer. `pause`: in days."""
        heard = list(people)
        if not heard:
            return False  # no record means no
        if use != "machine" and day < self._interview_over(place[0]) + timedelta(days=pause):
            return False  # "a cooling-off time after the interview in which nothing but safe-keeping and machine listening happens"
        if any(self._held(hold, heard, place, use, way, day) for hold in self._all("restraint")):
            return False
        if use not in OWN_EARS and any(not self._cleared(work, use, way, day, exhibition) for work in self._all("work") if touches(work, place)):
            return False
        return all(self._person(who, place, use, way, day, exhibition, form_covers) for who in heard)  # the most restrictive speaker wins

    # -- what holds a stretch back ---------------------------------------------------------------------------------
    def _interview_over(self, interview: int) -> date:
        known = [r for r in self._all("recording") if r["interview_id"] == interview]
        came = {m["id"]: date.fromisoformat(m["at"][:10]) for m in self._all("master")}
        said = [r["recorded_on"] for r in known if r["recorded_on"]]
        return max(said) if said else max(came[r["master_id"]] for r in known)

    def _held(self, hold: Fact, heard: list[int], place: tuple[int, int, int, int], use: str, way: str, day: date) -> bool:
        if hold["person_id"] is not None and hold["person_id"] not in heard:
            return False
        if hold["interview_id"] is not None and hold["interview_id"] != place[0]:
            return False
        if hold["recording_id"] is not None and not touches(hold, place):
            return False
        # One way alone may be withdrawn; our own computer, which makes words of a voice, stops for either of the two.
        if hold.get("way") is not None and hold["way"] != way and not (use == "machine" and hold["way"] in ("words", "voice")):
            return False
        if hold["use"] is not None and hold["use"] != use:
            return False
        if use == "machine" and hold["kind"] in ("sealed", "embargo") and hold["use"] is None:
            return False  # project choice: these close speech to people
        ended = [r for r in self._all("release") if r["restraint_id"] == hold["id"] and r["from_on"] <= day]
        if day < hold["from_on"] or any(r["kind"] == "lifted" for r in ended):
            return False
        over = hold["until_on"] is not None and day >= hold["until_on"]
        return not over or (hold["needs_review"] and all(r["kind"] != "reviewed" for r in ended))  # its end means review

    def _cleared(self, work: Fact, use: str, way: str, day: date, exhibition: str) -> bool:
        last = None
        for word in self._all("work_clearance"):
            meant = word["work_id"] == work["id"] and word["use"] in (None, use) and word["way"] in (None, way) and word["exhibition"] in (None, exhibition)
            if meant and word["from_on"] <= day and (word["until_on"] is None or day < word["until_on"]):
                last = word
        return last is not None and last["answer"] == "yes"

    # -- what one person said --------------------------------------------------------------------------------------
    def _person(self, who: int, place: tuple[int, int, int, int], use: str, way: str, day: date, exhibition: str, form_covers: bool) -> bool:
        papers = [a for a in self._all("agreement") if a["person_id"] == who and a["signed_on"] <= day]
        papers = [a for a in papers if a["kind"] == "recording" or (use == "machine" and form_covers)]
        papers = [a for a in papers if a["interview_id"] in (None, place[0]) and (a["recording_id"] is None or touches(a, place))]
        papers = [a for a in papers if not any(self._takes_the_place(later, a, day) for later in self._all("agreement"))]
        yeses: list[Fact] = []
        for paper in papers:
            for row in self.answers.get(paper["id"], []):
                if row["use"] != use or row["way"] != way or row["exhibition"] not in (None, exhibition):
                    continue
                if (row["from_on"] or date.min) > day or day >= (row["until_on"] or date.max):
                    continue
                if row["answer"] != "yes":
                    return False  # a no, and an "ask me" that was not asked, whoever said it: a minor's, an heir's
                if self._valid(paper, day):
                    if self._young(paper) and (self._of(who)["adult_from"] or date.min) <= day:
                        return False  # "at 18 all uses turn to ask"; without a birth date at once
                    yeses.append(paper)
        if not self._wishes_allow(who, use, way, day):
            return False
        whole = [p for p in yeses if encloses(p, place)]
        if any(p["relation"] != "heir" for p in whole):
            return True
        return self._heirs_allow(who, [p for p in papers if encloses(p, place)], whole, day)

    def _heirs_allow(self, who: int, papers: list[Fact], yeses: list[Fact], day: date) -> bool:
        """"After death the speaker's own answers stand: an heir may narrow, never widen, unless the speaker said so; several heirs must all say yes." """
        said_so = any(p["heirs_may_allow"] and p["relation"] == "" and self._valid(p, day) for p in papers)
        died = self._of(who)["dead_by"]
        heirs = set()
        for other in {r["other_id"] for r in self._all("speaks_for")} | {a["spoken_for_by_id"] for a in self._all("agreement")}:
            row = self._speaks(who, other, "heir")
            signed = any(a["person_id"] == who and a["relation"] == "heir" and a["spoken_for_by_id"] == other and a["signed_on"] <= day for a in self._all("agreement"))
            if other is not None and (on(row, day) if row is not None else signed):
                heirs.add(other)
        return said_so and died is not None and died <= day and bool(heirs) and heirs <= {p["spoken_for_by_id"] for p in yeses}

    def _wishes_allow(self, who: int, use: str, way: str, day: date) -> bool:
        wish = None
        for row in self._all("wish"):
            if row["person_id"] == who and row["from_on"] <= day and (wish is None or row["from_on"] >= wish["from_on"]):
                wish = row
        if wish is None:  # no record means the most careful wish
            return use in STAYS_IN and not (way == "voice" and use not in OWN_EARS)
        return not (wish["review"] == "wanted" and use not in STAYS_IN) and not (wish["voice"] == "not_heard" and way == "voice" and use not in OWN_EARS)

    # -- whose paper counts ----------------------------------------------------------------------------------------
    def _of(self, who: int) -> Fact:
        return self._all("person")[who - 1]

    def _young(self, paper: Fact) -> bool:
        born = self._of(paper["person_id"])
        if paper["minor"]:
            return True
        return paper["signed_on"] < born["adult_by"] if born["adult_by"] else born["adult_from"] is not None

    def _speaks(self, who: int, other: int | None, relation: str) -> Fact | None:
        """The newest word on it."""
        newest = None
        for row in self._all("speaks_for"):
            if (row["person_id"], row["other_id"], row["relation"]) == (who, other, relation):
                newest = row
        return newest

    def _valid(self, paper: Fact, day: date) -> bool:
        """Its yes counts: own and of age; or a guardian for a minor who assents, a deputy or an heir with papers, each with an agreement of their own."""
        signer = paper["spoken_for_by_id"]
        if signer is None:
            return not self._young(paper)
        if paper["relation"] == "guardian":
            if not self._young(paper) or not paper["assent"]:
                return False
        elif self._young(paper):
            return False
        died = self._of(paper["person_id"])["dead_by"]
        if paper["relation"] != "heir" and died is not None and died <= paper["signed_on"]:
            return False  # "after death the speaker's own answers stand": a guardian's and a deputy's office ends with it
        row = self._speaks(paper["person_id"], signer, paper["relation"])
        if signer == paper["person_id"] or row is None or not on(row, paper["signed_on"]) or (paper["relation"] != "guardian" and not row["papers"]):
            return False
        return any(a["person_id"] == signer and a["signed_on"] <= day for a in self._all("agreement"))

    def _takes_the_place(self, later: Fact, former: Fact, day: date) -> bool:
        if later["supersedes_id"] != former["id"] or later["person_id"] != former["person_id"] or later["signed_on"] > day:
            return False
        if later["relation"] == "":
            return former["relation"] == "" or not self._young(later)
        if former["relation"] == "" or not self._valid(later, day):
            return False
        if later["relation"] == "deputy" and former["relation"] != "heir":
            return True
        return bool(later["relation"] == former["relation"] and later["spoken_for_by_id"] == former["spoken_for_by_id"])


def touches(row: Fact, place: tuple[int, int, int, int]) -> bool:
    """A stretch (or a whole recording) shares time with the place."""
    _, recording, start_ms, end_ms = place
    first, last = (0, 10**12) if row["start_ms"] is None else (row["start_ms"], row["end_ms"])
    return bool(row["recording_id"] == recording and first < end_ms and start_ms < last)


def encloses(paper: Fact, place: tuple[int, int, int, int]) -> bool:
    """An agreement covers all of the place."""
    return paper["recording_id"] is None or bool(paper["recording_id"] == place[1] and paper["start_ms"] <= place[2] and place[3] <= paper["end_ms"])


def on(row: Fact, day: date) -> bool:
    """A row holds on a day."""
    return bool(row["from_on"] <= day and (row["until_on"] is None or day < row["until_on"]))
