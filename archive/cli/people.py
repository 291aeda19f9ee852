"""People, agreements, holds, and explaining a decision."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from archive.app import Cell, Table, WithdrawalReport, phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table
from archive.domain.values import Answer, Way

PATH = click.Path(path_type=Path)
NOT_ADVICE = "Not legal advice: local law and your institution's own counsel decide."
WAYS = {Way.WORDS: "as words", Way.VOICE: "as voice", Way.PICTURE: "as picture"}


@click.group()
def people() -> None:
    """Narrators, interviewers and third parties."""


@people.command("read")
@click.argument("sheet", type=PATH)
@desk
def people_read(at: Desk, sheet: Path) -> None:
    """Read people.csv: codes, names, and how everybody wishes to be called and heard."""
    new, known = at.archive.people.read(at.viewer, sheet)
    say(f"{phrases.begin(phrases.many(new, 'person', 'people'))} added, {known} known.")


@people.command("add")
@click.argument("code")
@click.option("--full", required=True, help="Full name.")
@click.option("--first", default="", help="First name, as they are called.")
@click.option("--family", default="", help="Family name.")
@click.option("--nick", default="", help="Other names they go by, parted by semicolons.")
@click.option("--initials", default="", help="Initials, as they may stand on a wall.")
@click.option("--heard-as", default="", help="How their name is misheard, parted by semicolons.")
@click.option("--pseudonym", default="", help="The name they chose instead.")
@click.option("--born", default="", help="Born: 1938, 1938-03-14, or as EDTF.")
@click.option("--died", default="", help="Died: as --born.")
@click.option("--sex", default="", help="As they told it; leave it out where nobody needs it.")
@click.option("--attribution", default="", help="How to name them: full, first, initials, pseudonym; else unnamed.")
@click.option("--voice", default="", help="Their voice: as_recorded, disguised; else not_heard.")
@click.option("--review", default="", help="Do quotes go to them first: not_wanted; else wanted.")
@click.option("--scan", default="", help="Is their name also a word or a place: as_name; else always.")
@click.option("--note", default="", help="For the team.")
@desk
def people_add(at: Desk, /, code: str, **columns: str) -> None:
    """Add one person under CODE, by the rules of a row of people.csv. What is not said is the most careful answer."""
    at.archive.people.add(at.viewer, {"code": code, **columns})
    say(f"{code} is on record. Next: toldhere agreements add. No record means no.")


@people.command("list")
@json_option
@desk
def people_list(at: Desk, as_data: bool) -> None:
    """Everybody on record."""
    rows = at.archive.people.list(at.viewer)
    if as_data:
        say_json(rows)
    else:
        table("", ("code", "name", "role", "how to name them", "voice", "sees quotes first", "agreement"), [(r.code, r.name, ", ".join(r.roles), phrases.wish(r.attribution), phrases.wish(r.voice), phrases.wish(r.review), r.state) for r in rows])


@people.command("show")
@click.argument("person")
@click.option("--reasons", is_flag=True, help="Every use in every way, with the reason where it is a no.")
@json_option
@desk
def people_show(at: Desk, person: str, reasons: bool, as_data: bool) -> None:
    """What one person allowed, in each interview, what is held back, and what already went out."""
    page = at.archive.people.page(at.viewer, person)
    if as_data:
        say_json(page)
        return
    row = page.row
    say(f"{row.code} {row.name}: {row.state}. How to name them: {phrases.wish(row.attribution)}. Voice: {phrases.wish(row.voice)}. Sees quotes first: {phrases.wish(row.review)}.")
    for group in page.allowed:
        where = f"In {', '.join(group.interviews)}, allowed" if group.interviews else "Allowed"
        for way in Way:
            said = [(line.label, getattr(line, way.value)) for line in group.lines]
            uses = [label + answer.removeprefix("yes") for label, answer in said if answer.startswith("yes")]
            say(f"{where} {WAYS[way]}: {'; '.join(uses) or 'nothing'}.")
        if reasons:
            table("", ("use", "words", "voice", "picture"), [(line.label, line.words, line.voice, line.picture) for line in group.lines])
    for spoken in at.archive.spokespeople.of(at.viewer, person):
        say(f"Speaks for them: {spoken.code} as {spoken.relation}, from {phrases.day(spoken.from_on)}{f' through {phrases.day(spoken.through)}' if spoken.through else ''}: {spoken.state}.")
    for hold in page.restraints:
        say(f"Hold {hold.id}: {hold.words}{'' if hold.holds else ' (no longer holds)'}")
    for title, lines in (("Agreement", page.agreements), ("Interview", page.interviews), ("Went out", page.left)):
        for line in lines:
            say(f"{title}: {line}")
    for caution in page.cautions:
        say(f"  {caution}")


@people.command("spokesperson")
@click.argument("other")
@click.argument("person")
@click.option("--as", "relation", required=True, type=click.Choice(["guardian", "heir", "deputy"]), help="As what.")
@click.option("--from", "from_on", required=True, type=click.DateTime(["%Y-%m-%d"]), help="Since when.")
@click.option("--through", type=click.DateTime(["%Y-%m-%d"]), help="The last day, where it ended.")
@click.option("--papers", default="", help="What somebody saw that shows it: which paper, of which day, seen by whom.")
@desk
def spokesperson(at: Desk, other: str, person: str, relation: str, from_on: datetime, through: datetime | None, papers: str) -> None:
    """OTHER speaks for PERSON, as guardian, heir or deputy. The newest word on the two counts."""
    caution = at.archive.spokespeople.put(at.viewer, person, other, relation, from_on.date(), papers, through.date() if through else None)
    state = next(r.state for r in at.archive.spokespeople.of(at.viewer, person) if (r.code, r.relation) == (other, relation))
    say(f"On record: {state}.")
    say(f"  {caution}")
    say(f"  {NOT_ADVICE}")


@click.group()
def agreements() -> None:
    """Agreements, and what people decide later."""


@agreements.command("read")
@click.argument("agreements_sheet", type=PATH)
@click.argument("permissions_sheet", type=PATH)
@desk
def agreements_read(at: Desk, agreements_sheet: Path, permissions_sheet: Path) -> None:
    """Read agreements.csv with permissions.csv. Only ever added to; taken whole or not at all."""
    papers, answers = at.archive.consent.read(at.viewer, agreements_sheet, permissions_sheet)
    say(f"{phrases.begin(phrases.many(papers, 'agreement'))} and {phrases.many(answers, 'answer')} added.")
    for line in at.archive.consent.contradictions(at.viewer):
        say(line)


def _use_and_way(text: str) -> dict[str, str]:
    """USE:WAY as two columns of permissions.csv."""
    use, _, way = text.partition(":")
    return {"use": use.strip(), "way": way.strip()}


@agreements.command("add")
@click.argument("code")
@click.option("--person", required=True, help="Code of who agreed.")
@click.option("--signed-on", required=True, help="The day it was signed or spoken: 2025-03-14.")
@click.option("--kind", default="", help="participation, or recording (this is meant where nothing is said).")
@click.option("--form", default="", help="spoken, or signed (this is meant where nothing is said).")
@click.option("--interview", default="", help="For this interview only; else for all of theirs.")
@click.option("--allow", multiple=True, metavar="USE:WAY", help="They said yes: exhibition:words. May be given again.")
@click.option("--refuse", multiple=True, metavar="USE:WAY", help="They said no.")
@click.option("--ask", multiple=True, metavar="USE:WAY", help="They want to be asked each time.")
@click.option("--exhibition", default="", help="Their answers hold for this exhibition only.")
@click.option("--from-on", default="", help="Their answers hold from this day on.")
@click.option("--until-on", default="", help="Their answers hold through this day.")
@click.option("--conditions", default="", help="Conditions of their answers, in a sentence.")
@click.option("--taken-by", default="", help="Code of who took it.")
@click.option("--language", default="", help="Language of the paper: en.")
@click.option("--copyright", default="", help="assigned, licensed, or kept (this is meant where nothing is said).")
@click.option("--spoken-for-by", default="", help="Code of who signed for them.")
@click.option("--relation", default="", help="What that person is to them: guardian, heir, deputy.")
@click.option("--minor", default="", help="yes: they were under 18.")
@click.option("--assent", default="", help="yes: the minor agreed as well.")
@click.option("--papers", default="", help="What somebody saw that shows that they may sign for them.")
@click.option("--heirs-may-allow", default="", help="yes: their heirs together may allow what they did not answer.")
@click.option("--supersedes", default="", help="Code of the agreement whose place it takes.")
@click.option("--covers", default="", help="Only this stretch of a recording: TW-01.1@1:16-1:25.")
@click.option("--paper", default="", help="The code on the form that was signed: its scan is what this rests on.")
@click.option("--note", default="", help="For the team.")
@desk
def agreements_add(
    at: Desk, /, code: str, allow: tuple[str, ...], refuse: tuple[str, ...], ask: tuple[str, ...],
    exhibition: str, from_on: str, until_on: str, conditions: str, **columns: str,
) -> None:  # fmt: skip
    """Add one agreement under CODE with its answers, by the rules of agreements.csv and permissions.csv."""
    terms = {"exhibition": exhibition, "from_on": from_on, "until_on": until_on, "conditions": conditions}
    given = [(Answer.YES, allow), (Answer.NO, refuse), (Answer.ASK, ask)]
    answers = [{**_use_and_way(asked), **terms, "answer": answer.value} for answer, some in given for asked in some]
    _, count = at.archive.consent.add(at.viewer, {"code": code, **columns}, answers)
    say(f"{code} is on record with {phrases.many(count, 'answer')}. What is not answered is not allowed.")
    for line in at.archive.consent.contradictions(at.viewer):
        say(line)


@agreements.command("list")
@click.argument("person", default="")
@json_option
@desk
def agreements_list(at: Desk, person: str, as_data: bool) -> None:
    """Every agreement on record, or those of PERSON."""
    rows = at.archive.people.agreements(at.viewer, person)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("agreement", "person", "for", "form", "on", "answers", "state"), [(r.code, r.person, r.interview or "all interviews", r.kind, phrases.day(r.signed_on), r.answers, r.state) for r in rows])
    else:
        say("No agreement is on record, and no record means no.")


@agreements.command("show")
@click.argument("code")
@json_option
@desk
def agreements_show(at: Desk, code: str, as_data: bool) -> None:
    """One agreement with every answer in it."""
    page = at.archive.papers.agreement(at.viewer, code)
    if as_data:
        say_json(page)
        return
    row = page.row
    say(f"{row.code} (version {page.number}): {row.person}, {row.kind} form, {page.form}, {phrases.day(row.signed_on)}, for {page.covers or row.interview or 'all their interviews'}; copyright {page.copyright}; {row.state}.")
    for paper in page.papers:
        say(f"Rests on {f'what is spoken at {paper.recording}@{phrases.from_to(paper.start_ms, paper.end_ms)}' if paper.recording else f'a scan, SHA-256 {paper.sha256}'}{f', {paper.form}' if paper.form else ''}; kept by {paper.kept}.")
    if not page.papers:
        say("No scan and no spoken stretch is attached: toldhere agreements attach, or toldhere agreements spoken.")
    for line in page.differences:
        say(f"Other than {page.before}: {line}")
    lines = [
        (a.label, a.way, a.answer, a.exhibition or "any", " ".join(p for p in (a.from_on and f"from {phrases.day(a.from_on)}", a.until_on and f"through {phrases.day(a.until_on)}") if p), a.conditions)
        for a in page.answers
    ]
    table("", ("use", "in which way", "answer", "exhibition", "when", "conditions"), lines)


@agreements.command("closed")
@click.argument("sheet", required=False, type=PATH)
@json_option
@desk
def agreements_closed(at: Desk, sheet: Path | None, as_data: bool) -> None:
    """Read closed.csv, a SHEET of stretches that somebody wants closed; without it, list what is closed and why."""
    if sheet is None:
        _list_closed(at, as_data)
        return
    say(f"{phrases.begin(phrases.many(at.archive.consent.read_closed(at.viewer, sheet), 'stretch', 'stretches'))} closed.")


def _list_closed(at: Desk, as_data: bool) -> None:
    rows = at.archive.consent.closed(at.viewer)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("hold", "stretch", "kind", "until", "why"), [(r.hold, f"{r.recording}@{phrases.from_to(r.start_ms, r.end_ms)}", r.kind if r.holds else f"{r.kind} (no longer holds)", f"through {phrases.day(r.until)}" if r.until else r.event or "somebody opens it", f"said off the record? {r.rule}" if r.rule else r.how) for r in rows])
        if any(r.rule and r.holds for r in rows):
            say("What our own computer closed is its guess. Listen, then: toldhere agreements seal STRETCH --instead-of HOLD --how …, or toldhere agreements lift PERSON HOLD --reason …")
    else:
        say("No stretch is closed.")


@agreements.command("seal")
@click.argument("stretch_", metavar="STRETCH")
@click.option("--how", default="", help="Who asked, and how.")
@click.option("--instead-of", type=click.IntRange(1, MOST), help="A hold that our own computer made: it ends, and exactly this stretch stays closed.")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), help="The last closed day; its end means that a keeper looks, nothing opens by itself.")
@click.option("--event", default="", help="What ends it before that day: “the life of N-05 and five years”. Without --until it is looked at every five years.")
@desk
def agreements_seal(at: Desk, stretch_: str, how: str, instead_of: int | None, until: datetime | None, event: str) -> None:
    """Close a STRETCH (TW-01.1@1:16-1:25) until a keeper opens it. A seal binds us, not a court."""
    recording, start_ms, end_ms = phrases.stretch(stretch_)
    last = until.date() if until else None
    if instead_of is None:
        at.archive.consent.seal(at.viewer, recording, start_ms, end_ms, how, last, event)
        say(f"{phrases.begin(phrases.closed_through(last, event))}.")
        return
    if event:
        raise click.UsageError("--event does not go with --instead-of.")
    at.archive.consent.close_exactly(at.viewer, instead_of, [(start_ms, end_ms)], how, last, recording)
    say(f"Closed exactly so; hold {instead_of} has ended.")


def _aimed(function: Any) -> Any:
    """Adds what a withdrawal or a pause can be narrowed to."""
    for option in reversed((
        click.option("--use", default="", help="One use only."),
        click.option("--way", type=click.Choice([w.value for w in Way]), help="One way only: words, or the voice, or the picture."),
        click.option("--interview", default="", help="One interview only."),
        click.option("--stretch", default="", help="One stretch only: TW-01.1@1:16-1:25."),
        click.option("--how", default="", help="How it came: letter, call, in person."),
        json_option,
    )):  # fmt: skip
        function = option(function)
    return function


@agreements.command("withdraw")
@click.argument("person")
@_aimed
@desk
def withdraw(at: Desk, person: str, use: str, way: str | None, interview: str, stretch: str, how: str, as_data: bool) -> None:
    """PERSON withdraws. At once: nothing of theirs is found or leaves; what already went out is listed, and becomes tasks."""
    report = at.archive.consent.withdraw(at.viewer, person, use=use, interview=interview, how=how, stretch=stretch, way=Way(way) if way else None)
    _tell(report, f"Withdrawn, {report.scope}.", as_data, f"Confirm it: toldhere agreements letter {person} {report.hold}.")


@agreements.command("pause")
@click.argument("person")
@_aimed
@desk
def pause(at: Desk, person: str, use: str, way: str | None, interview: str, stretch: str, how: str, as_data: bool) -> None:
    """PERSON thinks it over: everything of theirs, or as much as is named, is held until it is lifted."""
    report = at.archive.consent.pause(at.viewer, person, how, use, interview, stretch, Way(way) if way else None)
    _tell(report, f"Held, {report.scope}.", as_data)


@agreements.command("object")
@click.argument("person")
@click.option("--stretch", default="", help="What they object to: TW-01.1@1:16-1:25; else whatever names them.")
@click.option("--how", default="", help="How it came.")
@json_option
@desk
def objection(at: Desk, person: str, stretch: str, how: str, as_data: bool) -> None:
    """PERSON, who is spoken about, objects: what names them is held at once, until a keeper decides."""
    report = at.archive.consent.object(at.viewer, person, how, stretch)
    _tell(report, f"Held: {report.scope.removeprefix('to ')} ({', '.join(report.passages)}). Objection {report.objection}.", as_data, f"A keeper decides: toldhere agreements decide {report.objection} held --reason …, or ended.")


def _tell(report: WithdrawalReport, first: str, as_data: bool, last: str = "") -> None:
    if as_data:
        say_json(report)
        return
    say(f"{first} {phrases.begin(phrases.many(report.jobs_stopped, 'running job'))} stopped.")
    say(f"Excerpts that may not leave now: {', '.join(report.excerpts_flagged) or 'none'}.")
    if report.panels:
        say(f"They stand on: {', '.join(report.panels)}.")
    for row in report.already_out:
        say(f"Already went out: {row.export} on {phrases.day(row.on)} for {row.use}: {', '.join(row.files)}")
        for place in row.places:
            if place.down_on is None:
                say(f"  It stands: {place.where} ({place.file})")
    if report.tasks:
        say(f"{phrases.begin(phrases.many(report.tasks, 'task'))} for people: toldhere tasks list.")
    for sentence in report.sentences:
        say(f"  {sentence}")
    if last:
        say(last)


@agreements.command("lift")
@click.argument("person")
@click.argument("hold", type=click.IntRange(1, MOST))
@click.option("--reason", required=True, help="Why it ends, who said so, and how. Kept on record.")
@click.option("--reviewed", is_flag=True, help="It came to its end, was looked at, and is open.")
@click.option("--stays", is_flag=True, help="It was looked at, and stays closed as before.")
@desk
def lift(at: Desk, person: str, hold: int, reason: str, reviewed: bool, stays: bool) -> None:
    """End a HOLD of PERSON (its number stands in `people show PERSON`). A withdrawal ends only on their own word."""
    if reviewed and stays:
        raise click.UsageError("--reviewed opens it, --stays does not: give one of them.")
    at.archive.consent.lift(at.viewer, hold, reason, reviewed, person, kept=stays)
    say("Looked at; it stays closed, and that is on record." if stays else "Ended, and on record.")


@agreements.command("approve")
@click.argument("excerpt")
@click.argument("person")
@click.argument("answer", type=click.Choice(["yes", "no"]))
@click.option("--way", type=click.Choice([w.value for w in Way]), default="words", help="In which way: words alone, or the voice, or the picture.")
@click.option("--language", default="", help="In which language it was put to them: pl. An interpreter's words need it.")
@click.option("--given-by", default="", help="Code of who answered for them, and is on record as speaking for them.")
@desk
def approve(at: Desk, excerpt: str, person: str, answer: str, way: str, given_by: str, language: str) -> None:
    """PERSON said yes or no to exactly the wording of EXCERPT. Any change of it voids the answer."""
    at.archive.consent.approve(at.viewer, excerpt, person, Answer(answer), Way(way), given_by, language)
    say("On record.")


@agreements.command("interpreted")
@click.argument("excerpt")
@desk
def interpreted(at: Desk, excerpt: str) -> None:
    """You speak both languages, and the interpreter's words of EXCERPT agree with what was said before them."""
    at.archive.consent.check_interpreted(at.viewer, excerpt)
    say("On record, for exactly this wording. The narrator still has to approve it in their own language: toldhere agreements approve … --language.")


@click.command()
@click.argument("target")
@click.option("--use", default="", help="The use, e.g. exhibition; without it every use in every way.")
@click.option("--way", type=click.Choice([w.value for w in Way]), default="words", help="In which way: words alone, or the voice, or the picture.")
@click.option("--on", "on", type=click.DateTime(["%Y-%m-%d"]), help="On another day than today: 2029-06-14.")
@json_option
@desk
def may(at: Desk, target: str, use: str, way: str, on: datetime | None, as_data: bool) -> None:
    """May TARGET (an excerpt EX-1, a stretch TW-01.1@1:16-1:25, a person N-05) be used so, today or on another day? In sentences."""
    day = on.date() if on else None
    if not use:
        _print_table(at.archive.deciding.table(at.viewer, target, day), as_data)
        return
    answer = at.archive.deciding.may(at.viewer, target, use, Way(way), day)
    if as_data:
        say_json(answer)
    else:
        for sentence in answer.sentences:
            say(sentence)
        for line in answer.around:
            say(f"  {line}")
        for caution in phrases.BEFORE_A_TICK[:-1] if answer.around else ():
            say(f"  {caution}")
        for reason in answer.reasons:
            say(f"To change that ({reason.cites or 'nothing on record'}): {reason.change}")
        say(NOT_ADVICE)
    if not answer.allowed:
        sys.exit(5)


def _print_table(found: Table, as_data: bool) -> None:
    if as_data:
        say_json(found)
        return
    for note in found.notes:
        say(note)
    for group in found.groups:
        rows = [(line.label, *(_cell(c) for c in line.cells)) for line in group.lines]
        table(f"{found.target}{' – ' + ', '.join(group.about) if group.about else ''}, {phrases.day(found.on)}", ("use", "words", "voice", "picture"), rows)
    say("What would change one answer: the same with --use and --way. " + NOT_ADVICE)


def _cell(cell: Cell) -> str:
    """The answer, all its reasons with what they rest on, and when it could change."""
    said = "yes" + (", disguised" if cell.disguised else "") if cell.allowed else "no"
    reasons = [f"{r.words}{f' ({r.cites})' if r.cites else ''}" for r in cell.reasons]
    rest = [*reasons, *cell.conditions, *(f"{line}." for line in cell.rests)] + ([f"Could change on {phrases.day(cell.next_on)}."] if cell.next_on else [])
    return f"{said}: {' '.join(rest)}" if rest else said


COMMANDS = (people, agreements, may)
