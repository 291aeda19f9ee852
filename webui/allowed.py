"""Who may call which endpoint. What is not listed here is closed to everybody (DESIGN §9)."""

from __future__ import annotations

from flask import Flask, current_app, redirect, request, url_for
from flask_login import current_user
from werkzeug.wrappers import Response

from archive.domain.values import Role
from archive.errors import NotAllowed, NotFound

EVERYBODY: frozenset[Role] = frozenset()  # also those who are not signed in
KEEPER = frozenset({Role.KEEPER})
MAKERS = frozenset({Role.KEEPER, Role.EDITOR})
ALL_ROLES = frozenset({Role.KEEPER, Role.EDITOR, Role.READER})
HELPERS = MAKERS | {Role.HELPER}  # a helper in what was assigned alone
ANYBODY = frozenset(Role)

ALLOWED: dict[str, frozenset[Role]] = {
    "static": EVERYBODY,
    "sign_in.ask": EVERYBODY,
    "sign_in.check": EVERYBODY,
    "sign_in.link": EVERYBODY,
    "sign_in.enter": EVERYBODY,
    "sign_in.leave": ANYBODY,
    "finding.home": ALL_ROLES,
    "finding.blank": ALL_ROLES,
    "finding.ask": ALL_ROLES,
    "finding.answer": ALL_ROLES,
    "lists.all_of_them": ALL_ROLES,
    "lists.make": ALL_ROLES,
    "lists.one": ALL_ROLES,
    "lists.rename": ALL_ROLES,
    "lists.delete": ALL_ROLES,
    "lists.put_back": ALL_ROLES,
    "lists.keep": ALL_ROLES,
    "lists.item": ALL_ROLES,
    "lists.questions": ALL_ROLES,
    "lists.save": ALL_ROLES,
    "lists.look": ALL_ROLES,
    "lists.news": ALL_ROLES,
    "lists.drop": ALL_ROLES,
    "overview.grid": ALL_ROLES,
    "overview.into": ALL_ROLES,
    "overview.beside": ALL_ROLES,
    "recordings.all_of_them": ANYBODY,
    "take_in.page": MAKERS,
    "take_in.look": KEEPER,
    "take_in.folder": KEEPER,
    "take_in.uploads": MAKERS,
    "take_in.together": MAKERS,
    "take_in.begin": MAKERS,
    "take_in.piece": MAKERS,
    "take_in.whole": MAKERS,
    "take_in.again": MAKERS,
    "take_in.remove": MAKERS,
    "recordings.one": ANYBODY,
    "recordings.transcribe": MAKERS,
    "recordings.words": ANYBODY,
    "recordings.waiting": MAKERS,
    "recordings.sound": ANYBODY,
    "recordings.open_closed": KEEPER,
    "recordings.seal": MAKERS,
    "recordings.speakers": MAKERS,
    "recordings.suggestion": MAKERS,
    "recordings.name": MAKERS,
    "recordings.cut": MAKERS,
    "recordings.excerpt": MAKERS,
    "confirming.one": MAKERS,
    "confirming.decide": MAKERS,
    "confirming.undo": MAKERS,
    "confirming.same": MAKERS,
    "confirming.decide_same": MAKERS,
    "languages.say": MAKERS,
    "glossary.all_of_them": ANYBODY,
    "glossary.one": ALL_ROLES,
    "glossary.write": MAKERS,
    "glossary.drop": MAKERS,
    "places.all_of_them": ALL_ROLES,
    "places.one": ALL_ROLES,
    "places.write": MAKERS,
    "places.drop": MAKERS,
    "places.misheard": MAKERS,
    "places.decide": MAKERS,
    "places.take_back": MAKERS,
    "places.read": MAKERS,
    "places.written": MAKERS,
    "translations.words": HELPERS,
    "translations.write": HELPERS,
    "translations.one": HELPERS,
    "translations.change": HELPERS,
    "translations.say_state": HELPERS,
    "recordings.measure_again": MAKERS,
    "voices.assign": MAKERS,
    "voices.alike": MAKERS,
    "voices.listen": MAKERS,
    "voices.accept": MAKERS,
    "voices.forget": MAKERS,
    "transcripts.read": MAKERS,
    "transcripts.write": ALL_ROLES,
    "correcting.desk": HELPERS,
    "correcting.lines": HELPERS,
    "correcting.change": HELPERS,
    "correcting.conflicts": HELPERS,
    "correcting.fit": MAKERS,
    "correcting.again": MAKERS,
    "correcting.finish": HELPERS,
    "correcting.versions": MAKERS,
    "correcting.back": MAKERS,
    "spellings.all_of_them": MAKERS,
    "spellings.keep": MAKERS,
    "spellings.drop": MAKERS,
    "spellings.same": MAKERS,
    "spellings.change": MAKERS,
    "spellings.finish": MAKERS,
    "spellings.offer": MAKERS,
    "themes.all_of_them": MAKERS,
    "themes.keep": MAKERS,
    "themes.read": MAKERS,
    "themes.write": MAKERS,
    "themes.again": MAKERS,
    "themes.missing": MAKERS,
    "themes.one": MAKERS,
    "themes.passages": MAKERS,
    "themes.merge": MAKERS,
    "themes.drop": MAKERS,
    "themes.word": MAKERS,
    "names.all_of_them": MAKERS,
    "names.one": MAKERS,
    "names.decide": MAKERS,
    "names.words": MAKERS,
    "names.hide": MAKERS,
    "names.off_the_record": MAKERS,
    "names.open_again": KEEPER,
    "names.close_exactly": KEEPER,
    "people.all_of_them": MAKERS,
    "people.one": MAKERS,
    "people.before_withdrawal": KEEPER,
    "people.withdraw": KEEPER,
    "people.pause": MAKERS,
    "people.lift": KEEPER,
    "people.letter": KEEPER,
    "people.object_to": MAKERS,
    "people.objections": MAKERS,
    "people.decide": KEEPER,
    "people.answer": KEEPER,
    "people.note_risk": KEEPER,
    "people.end_risk": KEEPER,
    "papers.agreement": MAKERS,
    "papers.form": MAKERS,
    "papers.find": MAKERS,
    "papers.attach": KEEPER,
    "papers.spoken": KEEPER,
    "papers.scan": MAKERS,
    "papers.print_form": MAKERS,
    "papers.contact": KEEPER,
    "papers.envelope": MAKERS,
    "papers.again": MAKERS,
    "papers.letters": MAKERS,
    "reviews.all_of_them": MAKERS,
    "reviews.one": MAKERS,
    "reviews.print_sheet": MAKERS,
    "reviews.own_copy": MAKERS,
    "reviews.answer": MAKERS,
    "reviews.stand": MAKERS,
    "deciding.blank": MAKERS,
    "deciding.ask": MAKERS,
    "deciding.one": MAKERS,
    "deciding.answered": MAKERS,
    "deciding.compared": MAKERS,
    "deciding.speaks_for": KEEPER,
    "deciding.works": MAKERS,
    "deciding.mark": MAKERS,
    "deciding.say": KEEPER,
    "exhibition.chosen": MAKERS,
    "exhibition.sound": MAKERS,
    "exhibition.heard": MAKERS,
    "exhibition.heard_again": MAKERS,
    "exhibition.shown_in": MAKERS,
    "exhibition.dated": MAKERS,
    "exhibition.set_aside": MAKERS,
    "exhibition.take_back": MAKERS,
    "exhibition.reading": MAKERS,
    "exhibition.drop_reading": MAKERS,
    "exhibition.reading_sound": MAKERS,
    "exhibition.export": MAKERS,
    "exhibition.exported": MAKERS,
    "exhibition.exported_as_json": MAKERS,
    "exhibition.download": MAKERS,
    "upkeep.work": MAKERS,
    "upkeep.work_as_json": MAKERS,
    "upkeep.change_job": MAKERS,
    "upkeep.meaning": MAKERS,
    "upkeep.came_in": MAKERS,
    "upkeep.when": MAKERS,
    "upkeep.say_when": MAKERS,
    "upkeep.left": MAKERS,
    "upkeep.due": MAKERS,
    "upkeep.tasks": MAKERS,
    "upkeep.tick": MAKERS,
    "upkeep.place": MAKERS,
    "upkeep.take_down": MAKERS,
    "copies.all_of_them": MAKERS,
    "copies.choose": KEEPER,
    "copies.make": MAKERS,
    "copies.check": MAKERS,
    "copies.cards": MAKERS,
    "copies.listened": MAKERS,
    "copies.open_part": KEEPER,
    "copies.opened_sound": KEEPER,
    "notes.all_of_them": MAKERS,
    "notes.one": MAKERS,
    "notes.find": MAKERS,
    "notes.write": MAKERS,
    "notes.sheets": MAKERS,
    "erasing.all_of_them": KEEPER,
    "erasing.ask": KEEPER,
    "erasing.one": KEEPER,
    "erasing.agree": KEEPER,
    "erasing.back": KEEPER,
    "erasing.now": KEEPER,
    "erasing.search": KEEPER,
    "upkeep.record": KEEPER,
    "upkeep.check_record": KEEPER,
    "upkeep.accounts": KEEPER,
    "upkeep.add_account": KEEPER,
    "upkeep.reach": KEEPER,
    "upkeep.keeper_sheet": KEEPER,
}

NOT_YOURS = "Your account may not do this."
ASK_KEEPER = "Ask a keeper of this archive, or sign in with another account."


def close_the_doors(app: Flask) -> None:
    """Refuse every request whose endpoint is not listed for the role that asks. Register before anything else."""

    @app.before_request
    def door() -> Response | tuple[str, int] | None:
        endpoint = request.endpoint
        if endpoint is None:
            return None  # no route: Flask answers 404 or 405, in our words
        roles = ALLOWED.get(endpoint)
        if roles is None:
            raise NotFound("There is no such page.", "Go back, or start again at Find.")
        # A browser says where a request comes from; a change asked for by another site is refused at once.
        if request.method == "POST" and request.headers.get("Sec-Fetch-Site", "none") not in {"same-origin", "none"}:
            raise NotAllowed("This came from another site.", "Open the page here and do it again.")
        if roles is EVERYBODY:
            return None
        if not current_user.is_authenticated:
            if request.method == "GET" and not request.path.endswith((".wav", ".json")):
                return redirect(url_for("sign_in.ask", to=request.path), 303)
            return "Sign in first.", 401
        if current_user.role not in roles:
            raise NotAllowed(NOT_YOURS, ASK_KEEPER)
        return None


def may_call(endpoint: str, role: str) -> bool:
    """True where a signed-in account of this role may call the endpoint: templates show only links that work."""
    roles = ALLOWED.get(endpoint)
    return roles is not None and (roles is EVERYBODY or role in roles)


def unlisted() -> list[str]:
    """Endpoints of the running app that nobody listed; the tests want none."""
    return sorted({rule.endpoint for rule in current_app.url_map.iter_rules()} - set(ALLOWED))
