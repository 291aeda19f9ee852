"""Find: a question is posted and kept under a random id, so that no word and no name stands in an address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import Asked, language_name
from webui.desk import archive, viewer
from webui.views.lists import keeping

views = Blueprint("finding", __name__)
A_PAGE = 20
FARTHEST = 100_000  # pages
MOST_LETTERS = 40_000  # a question of that length is told what of it was not read
TICKS = tuple(f.name for f in fields(Asked) if f.type == "bool")
FIELDS = tuple(f.name for f in fields(Asked) if f.name not in TICKS)
FACETS = (("place", "Place"), ("decade", "Decade"), ("theme", "Theme"), ("speaker", "Speaker"))
FOLDED = (("born", "Born"), ("sex", "Sex"), ("role", "Part in the interview"), ("language", "Language"), ("state", "Transcript"), ("sound", "Sound"))
# What is chosen under “More ways to narrow” or stands among the words alone, and so is no facet.
OTHERS = (("era", "Told of"), ("interview", "Interview"), ("usable_on", "On"), ("confirmed", "Places, dates and themes"), ("other_names", "Places"))
ORDERS = (("", "as it suits the question"), ("best", "best first"), ("oldest", "oldest first, by what is told"), ("interview", "by interview"), ("newest", "newest recordings first"))
WAYS = (("words", "its words"), ("voice", "its voice"), ("picture", "its picture"))


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to narrow an answer, and how many passages it would leave; `confirmed`: in how many of them a person confirmed it."""

    value: str
    label: str
    count: int
    confirmed: int = 0


def _asked() -> Asked:
    """The question in the posted form. A facet's button sends `set` = "place=Net Row", or "place=" to remove it."""
    typed = {name: request.form.get(name, "").strip()[:MOST_LETTERS] for name in (*FIELDS, *TICKS)}
    name, _, value = request.form.get("set", "").partition("=")
    if name in typed:
        typed[name] = value
    ticked = {name: bool(typed.pop(name)) for name in TICKS}
    return Asked(**typed, **ticked)  # type: ignore[arg-type]  # text for text, a tick for a tick


@views.get("/")
def home() -> Response:
    """The first page is Find."""
    return redirect(url_for("finding.blank"))


@views.get("/find")
def blank() -> str:
    """The question, not yet asked."""
    return _page(Asked(), None, "", 1)


@views.post("/find")
def ask() -> Response:
    """Keep the question and go to its answer."""
    return redirect(url_for("finding.answer", question=archive().finding.keep(viewer(), _asked())), 303)


@views.get("/find/<question>")
def answer(question: str) -> str:
    """The answer to a kept question, decided now: a withdrawal since then already counts."""
    asked = archive().finding.question(viewer(), question)
    page = min(max(1, request.args.get("page", 1, type=int)), FARTHEST)
    found = archive().finding.ask(viewer(), asked, limit=A_PAGE, offset=(page - 1) * A_PAGE)
    near = archive().meaning.leads(viewer(), asked) if page == 1 else None
    return _page(asked, found, question, page, near)


def _page(asked: Asked, found: Any, question: str, page: int, near: Any = None) -> str:
    choices = archive().finding.choices(viewer())
    labels = {name: dict(choices.get(f"{name}s", ())) for name, _ in (*FACETS, *FOLDED)}
    labels["born"] = {f"{d}s": f"{d}s" for d in range(1850, 2030, 10)}
    labels["language"] = {tag: language_name(tag) for tag in ([t for t, _ in found.facets.get("language", ())] if found else [])}
    return render_template(
        "find.html",
        asked=asked,
        narrowed=_narrowed(asked, labels),
        found=found,
        near=near,
        tags={hit.unit_id: _once(hit.tags) for hits in (found, near) if hits for hit in hits.hits},
        facets=_facets(found, asked, labels, FACETS) if found else [],
        folded=_facets(found, asked, labels, FOLDED) if found else [],
        question=question,
        page=page,
        a_page=A_PAGE,
        choices=choices,
        uses=dict(choices["uses"]),
        usable=dict(found.facets.get("usable_for", ())) if found else {},
        orders=ORDERS,
        ways=WAYS,
        kept=[name for name in (*FIELDS, *TICKS) if name in ("place", "decade", "theme", "speaker", "sex", "interview")],
        unfolded=any(getattr(asked, name) for name in ("era", "born", "role", "language", "state", "sound", "usable_on", "order", *TICKS)),
        beside=_place_of(asked) if found else 0,
        **keeping([hit for some in (found, near) if some for hit in some.hits]),
    )


def _place_of(asked: Asked) -> int:
    """The number of the place that was asked for together with a decade, so that tellings can be put side by side; 0 where there is none."""
    places = archive().overview.choices(viewer())["places"] if asked.place and asked.decade else ()
    return next((number for number, name in places if name.casefold() == asked.place.casefold()), 0)


def _narrowed(asked: Asked, labels: dict[str, dict[str, str]]) -> list[tuple[str, str, str]]:
    """(field, title, value) of everything that narrows the question, as it is said."""
    said = {"confirmed": "confirmed by a person only", "other_names": "old and new names alike"}
    return [(name, title, said.get(name) or labels.get(name, {}).get(v, v)) for name, title in (*FACETS, *FOLDED, *OTHERS) if (v := getattr(asked, name))]


def _facets(
    found: Any, asked: Asked, labels: dict[str, dict[str, str]], wanted: tuple[tuple[str, str], ...]
) -> list[tuple[str, str, list[Choice]]]:  # fmt: skip
    """Counts beside each facet, as choices. Speakers are counted by what they are called; a choice needs their code."""
    sides = []
    for name, title in wanted:
        codes = {label: code for code, label in labels[name].items()}
        confirmed = dict(found.confirmed.get(name, ()))
        counted = [(f"{v}s" if name == "born" else v, n) for v, n in found.facets.get(name, ())]
        choices = [
            Choice(v if v in labels[name] else codes.get(v, v), labels[name].get(v, v), n, confirmed.get(v, 0)) for v, n in counted
        ]
        sides.append((name, title, [c for c in choices if c.value != getattr(asked, name)]))
    return [(name, title, choices) for name, title, choices in sides if choices]


def _once(tags: Iterable[Any]) -> list[Any]:
    """Each value once, confirmed before suggested: a passage may name a place many times."""
    ordered = sorted(tags, key=lambda tag: tag.state != "confirmed")
    return list({(tag.kind, tag.value): tag for tag in reversed(ordered)}.values())[::-1]
