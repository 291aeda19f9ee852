"""Signing in and out: by name and password, or by the link that `toldhere serve` prints and that works once.

A GET of the link changes nothing (a preview or a prefetch must not use it up); its page posts the token.
"""

from __future__ import annotations

from hmac import compare_digest

from flask import Blueprint, Flask, flash, redirect, render_template, request, session, url_for
from flask_login import LoginManager, UserMixin, current_user, login_user, logout_user
from werkzeug.wrappers import Response

from archive.errors import NotAllowed
from webui.allowed import may_call
from webui.desk import AT_THIS_MACHINE, archive

views = Blueprint("sign_in", __name__)
BEGAN, SEEN = "began", "seen"  # seconds of the epoch, in the signed cookie
SEEN_EVERY_S = 60.0
ASKED_BY_ITSELF = frozenset({"upkeep.work_as_json", "exhibition.exported_as_json", "correcting.fit"})


class SignedIn(UserMixin):  # type: ignore[misc]
    """An account as Flask-Login wants it. The session holds its id and its key; a changed key ends the session."""

    def __init__(self, number: int, name: str, role: str, session_key: str) -> None:
        self.number, self.name, self.role, self.session_key = number, name, role, session_key

    def get_id(self) -> str:
        """What the signed session cookie holds."""
        return f"{self.number}:{self.session_key}"


def attach(app: Flask) -> None:
    """Let the app know who is signed in."""
    login = LoginManager(app)
    login.session_protection = "strong"

    @login.user_loader  # type: ignore[untyped-decorator]
    def load(kept: str) -> SignedIn | None:
        number, _, key = kept.partition(":")
        account = archive().accounts.by_id(int(number)) if number.isdecimal() else None
        if account is None or not compare_digest(account.session_key.encode(), key.encode()):
            return None
        if _is_over():
            session.clear()
            flash("You were signed out after a while without work. What was saved is kept; sign in again.")
            return None
        return SignedIn(account.id, account.name, account.role, account.session_key)


def _is_over() -> bool:
    """True where a session lasted too long, or nobody asked anything for too long; else it is seen now. A page that asks by itself how far
    work has come keeps nobody signed in."""
    settings, now = archive().settings, archive().rooms.seconds()
    began, seen = session.get(BEGAN, 0.0), session.get(SEEN, 0.0)
    if now - began > settings.session_hours * 3600 or now - seen > settings.idle_minutes * 60:
        return True
    if request.endpoint not in ASKED_BY_ITSELF and now - seen >= SEEN_EVERY_S:
        session[SEEN] = now
    return False


def _inside(path: str, role: str) -> str:
    """The path to go on to: one of ours, or where a role begins. Never another site."""
    if path.startswith("/") and not path.startswith(("//", "/\\")) and "\\" not in path and path.isprintable():
        return path
    return url_for("finding.blank" if may_call("finding.blank", role) else "recordings.all_of_them")


def _let_in(number: int, name: str, role: str, session_key: str, to: str) -> Response:
    session.clear()
    session[BEGAN] = session[SEEN] = archive().rooms.seconds()
    login_user(SignedIn(number, name, role, session_key))
    if not archive().accounts.has_undertaken(name):
        flash("No signed undertaking of confidentiality of yours is on record. Ask a keeper for the form.")
    return redirect(_inside(to, role), 303)


@views.get("/sign-in")
def ask() -> str:
    """The form."""
    return render_template("sign_in.html", to=request.args.get("to", ""), refused=None)


@views.post("/sign-in")
def check() -> Response | tuple[str, int]:
    """Let in who knows the password; say why not otherwise. Failures are counted in the database."""
    to = request.form.get("to", "")
    try:
        account = archive().accounts.sign_in(
            request.form.get("name", ""), request.form.get("password", ""), request.remote_addr or ""
        )
    except NotAllowed as refused:
        return render_template("sign_in.html", to=to, refused=refused), refused.status
    return _let_in(account.id, account.name, account.role, account.session_key, to)


@views.get("/enter/<token>")
def link(token: str) -> str:
    """The page behind the once-link: one button, which posts the token."""
    return render_template("enter.html", token=token)


@views.post("/enter")
def enter() -> Response:
    """Use the link up and let its bearer in. Raises NotAllowed where it was used before or is too old."""
    account = archive().accounts.use_link(request.form.get("token", ""))
    answer = _let_in(account.id, account.name, account.role, account.session_key, "")
    session[AT_THIS_MACHINE] = True  # the link is printed on it; who comes through a tunnel has a password instead
    return answer


@views.post("/sign-out")
def leave() -> Response:
    """End every session of this account."""
    archive().accounts.leave(current_user.number)
    logout_user()
    session.clear()
    flash("You are signed out.")
    return redirect(url_for("sign_in.ask"), 303)
