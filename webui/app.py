"""The web pages of one archive: `create_app(archive)`. Views only translate; every decision is a service's."""

from __future__ import annotations

import traceback
from typing import TYPE_CHECKING

from flask import Flask, render_template, request
from flask.sessions import SecureCookieSessionInterface
from flask_login import current_user
from flask_wtf.csrf import CSRFError, CSRFProtect
from jinja2 import StrictUndefined
from werkzeug.exceptions import HTTPException, SecurityError
from werkzeug.routing import IntegerConverter, Map
from werkzeug.wrappers import Response

from archive.app import language_name, phrases
from archive.errors import Erasing, ToldHereError
from webui import sign_in
from webui.allowed import close_the_doors, may_call
from webui.uploads import UploadRequest
from webui.views import (
    confirming,
    copies,
    correcting,
    deciding,
    erasing,
    exhibition,
    finding,
    glossary,
    languages,
    lists,
    names,
    notes,
    overview,
    papers,
    people,
    places,
    recordings,
    reviews,
    spellings,
    take_in,
    themes,
    transcripts,
    translations,
    upkeep,
    voices,
)

if TYPE_CHECKING:
    from archive.app import Archive

POLICY = (
    "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
# Words for what Flask and Werkzeug refuse by themselves: status -> (message, remedy)
HTTP_WORDS = {
    400: ("This request cannot be understood.", "Go back, load the page again and repeat what you did."),
    404: ("There is no such page.", "Go back, or start again at Find."),
    405: ("This page is not opened in that way.", "Go back and use the button on the page."),
    413: ("What was sent is too large.", "Send less at once."),
    415: ("What was sent is of the wrong kind.", "Go back and use the form on the page."),
}


class Number(IntegerConverter):
    """A number in an address: none that is larger than anything on record, so that it is no page and not an error."""

    regex = r"\d{1,10}"

    def __init__(self, map: Map) -> None:
        super().__init__(map, max=2**31 - 1)


class _Sessions(SecureCookieSessionInterface):
    """The session cookie is Secure wherever the request came over TLS."""

    def get_cookie_secure(self, app: Flask) -> bool:
        return request.is_secure


def create_app(archive: Archive, hosts: tuple[str, ...] = ()) -> Flask:
    """The WSGI app of one opened archive. `hosts`: names under which it may be reached, beside the machine's own."""
    app = Flask(__name__)
    app.session_interface = _Sessions()
    app.request_class = UploadRequest
    app.config.update(
        SECRET_KEY=archive.web_key(),
        SESSION_COOKIE_NAME="told_here",
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_HTTPONLY=True,
        TRUSTED_HOSTS=["127.0.0.1", "localhost", "[::1]", archive.settings.host, *hosts],
        MAX_CONTENT_LENGTH=2 * 1024 * 1024,
        MAX_FORM_MEMORY_SIZE=1024 * 1024,
        MAX_FORM_PARTS=20_000,
        SEND_FILE_MAX_AGE_DEFAULT=3600,
        WTF_CSRF_TIME_LIMIT=None,  # the token lasts as long as the session
        WTF_CSRF_SSL_STRICT=False,  # it wants a Referer, which our Referrer-Policy rightly withholds
    )
    app.extensions["archive"] = archive
    app.url_map.converters["int"] = Number
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(from_to=phrases.from_to, taught=phrases.taught)
    app.jinja_env.filters.update(
        begin=phrases.begin, clock=phrases.clock, day=phrases.day, lasting=phrases.lasting, many=phrases.many, told=phrases.told,
        told_in=phrases.told_in, agrees=phrases.agrees, state=phrases.state, far=phrases.far, decided=phrases.decided, exact=phrases.exact, in_way=phrases.in_way, pointing=phrases.pointing, form_kind=phrases.form_kind, language=language_name, went=phrases.went, wish=phrases.wish, labels=phrases.labels, given_names=exhibition.given_names, plainly=phrases.plainly,
    )  # fmt: skip
    close_the_doors(app)
    sign_in.attach(app)
    CSRFProtect(app)
    for module in (sign_in, finding, lists, overview, recordings, languages, translations, glossary, voices, take_in, confirming, correcting, spellings, themes, transcripts, names, people, papers, reviews, deciding, places, exhibition, copies, notes, erasing, upkeep):
        app.register_blueprint(module.views)
    _common_to_templates(app, archive)
    _headers(app)
    _errors(app)
    return app


def _common_to_templates(app: Flask, archive: Archive) -> None:
    @app.context_processor
    def common() -> dict[str, object]:
        signed_in = current_user.is_authenticated
        role = current_user.role if signed_in else ""

        def may(endpoint: str) -> bool:
            return signed_in and may_call(endpoint, role)

        return {
            "house": archive.settings.name,
            "show": archive.settings.exhibition,
            "who": current_user.name if signed_in else "",
            "role": role,
            "may": may,
            "not_verbatim": phrases.NOT_VERBATIM,
            "changed_since": phrases.CHANGED_SINCE,
            "not_for_readers": phrases.NOT_FOR_READERS,
            "sensitive": phrases.SENSITIVE,
        }


def _headers(app: Flask) -> None:
    @app.after_request
    def guard(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if request.endpoint != "static":
            response.headers["Cache-Control"] = "no-store"
        return response


def _page(status: int, message: str, remedy: str, points: tuple[str, ...] = ()) -> tuple[str, int]:
    message, remedy, points = phrases.plainly(message), phrases.plainly(remedy), tuple(map(phrases.plainly, points))
    if request.path.endswith((".wav", ".json")):
        return f"{message} {remedy}".strip(), status
    return render_template("error.html", status=status, message=message, remedy=remedy, points=points), status


def _errors(app: Flask) -> None:
    @app.errorhandler(Erasing)
    def closed(error: Erasing) -> tuple[str, int, dict[str, str]]:  # not even who is signed in can be read meanwhile
        page = app.jinja_env.get_template("closed.html").render(message=error.message, remedy=error.remedy)
        return page, error.status, {"Retry-After": "10"}

    @app.errorhandler(ToldHereError)
    def told(error: ToldHereError) -> tuple[str, int]:
        points = getattr(error, "reasons", ()) or getattr(error, "findings", ())
        return _page(error.status, error.message, error.remedy, tuple(points))

    @app.errorhandler(CSRFError)
    def stale(error: CSRFError) -> tuple[str, int]:
        return _page(
            400, "This form is out of date; nothing was changed.", "Go back, load the page again and send it once more."
        )

    @app.errorhandler(HTTPException)
    def http(error: HTTPException) -> Response | tuple[str, int]:
        if isinstance(error, SecurityError):  # another host name: no page of ours, not even an error page
            return "These pages are not served under this name.", 400
        status = error.code or 500
        if status < 400:
            return Response(status=status, headers=error.get_headers())
        return _page(status, *HTTP_WORDS.get(status, HTTP_WORDS[400]))

    @app.errorhandler(OverflowError)
    def too_large(error: OverflowError) -> tuple[str, int]:  # a number that the database cannot hold: nothing has it
        return _page(404, *HTTP_WORDS[404])

    @app.errorhandler(Exception)
    def unforeseen(error: Exception) -> tuple[str, int]:
        # Only the kind of error and the lines it went through: its text could hold a name or a quoted word.
        way = " < ".join(f"{f.name} {f.filename}:{f.lineno}" for f in reversed(traceback.extract_tb(error.__traceback__)))
        app.logger.error("%s at %s: %s", type(error).__name__, request.endpoint, way)
        return _page(
            500,
            "Something went wrong here, and it is not your doing.",
            "What was on record before is untouched. Try once more; if it happens again, tell whoever looks after our own computer.",
        )
