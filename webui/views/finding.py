"""Find: a question is posted and kept under a random id, so that no word and no name stands in an address."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import Asked
from webui.desk import archive, viewer

views = Blueprint("finding", __name__)
A_PAGE = 20
FARTHEST = 100_000  # pages
MOST_LETTERS = 40_000  # a question of that length is told what of it was not read
TICKS = tuple(f.name for f in fields(Asked) if f.type == "bool")
FIELDS = tuple(f.name for f in fields(Asked) if f.name not in TICKS)
FACETS = (("place", "Place"), ("decade", "Decade"), ("theme", "Theme"), ("speaker", "Speaker"))


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to narrow an answer, and how many passages it would leave."""

    value: str
    label: str
    count: int


def _asked() -> Asked:
    """The question in the posted form. A facet's button sends `set` = "place=Net Row", or "place=" to remove it."""
    typed = {name: request.form.get(name, "").strip()[:MOST_LETTERS] for name in FIELDS}
    name, _, value = request.form.get("set", "").partition("=")
    if name in (*FIELDS, *TICKS):
        typed[name] = value
    ticked = {name: bool(typed.pop(name, "") or request.form.get(name)) for name in TICKS}
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
    labels = {name: dict(choices[f"{name}s"]) for name, _ in FACETS}
    return render_template(
        "find.html",
        asked=asked,
        narrowed=[(name, title, labels[name].get(v, v)) for name, title in FACETS if (v := getattr(asked, name))],
        found=found,
        near=near,
        tags={hit.unit_id: _once(hit.tags) for hits in (found, near) if hits for hit in hits.hits},
        facets=_facets(found, asked, labels) if found else [],
        question=question,
        page=page,
        a_page=A_PAGE,
        choices=choices,
        uses=dict(choices["uses"]),
    )


def _facets(found: Any, asked: Asked, labels: dict[str, dict[str, str]]) -> list[tuple[str, str, list[Choice]]]:
    """Counts beside each facet, as choices. Speakers are counted by what they are called; a choice needs their code."""
    sides = []
    for name, title in FACETS:
        codes = {label: code for code, label in labels[name].items()}
        counted = found.facets.get(name, ())
        choices = [
            Choice(v if v in labels[name] else codes.get(v, v), labels[name].get(v, v), count) for v, count in counted
        ]
        sides.append((name, title, [c for c in choices if c.value != getattr(asked, name)]))
    return [(name, title, choices) for name, title, choices in sides if choices]


def _once(tags: Iterable[Any]) -> list[Any]:
    """Each value once, confirmed before suggested: a passage may name a place many times."""
    ordered = sorted(tags, key=lambda tag: tag.state != "confirmed")
    return list({(tag.kind, tag.value): tag for tag in reversed(ordered)}.values())[::-1]
