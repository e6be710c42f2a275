"""The web application: which requests are answered, and how. Everything else is refused in a sentence."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from flask import Flask, Response, redirect, render_template, request
from werkzeug.exceptions import HTTPException

from predictor.errors import TRACE, InputError, sentence
from predictor.serving.book import Book
from predictor.serving.entry import NO_ENTRY
from predictor.serving.keys import Devices, Keys

LARGEST_BODY = 64 * 1024
A_YEAR_S = 365 * 86_400
# The files of the page: their names and kinds. Nothing else of any folder is served.
STATIC = {
    "drill.js": "text/javascript",
    "drill.css": "text/css",
    "page.css": "text/css",
}
# What anybody may ask for: the empty page, which has nothing of the job in it, and the way in.
OPEN = ("static_file", "no_icon", "way_in", "let_in")
# What the page asks for by itself, and understands as JSON
SPOKEN = ("/state", "/save")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
PRINTED_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
SEALED = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
NOT_LET_IN = (
    "This device is not let in. Open the address that the terminal of the laptop shows, or scan its code. What waits "
    "here to be sent stays."
)
CANNOT_KNOW = "The laptop cannot look up who was let in: {}. See to its disk. What waits here to be sent stays."
UNKNOWN_KEY = "This address was used up, or is mistyped. Open the one that the terminal of the laptop shows now."
WRONG_NAME = "The page is not served under this name. Open the address that the terminal of the laptop shows."
SAID = {
    HTTPStatus.NOT_FOUND: "There is no such page.",
    HTTPStatus.METHOD_NOT_ALLOWED: "This cannot be done here.",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: f"Nothing was saved: an entry has at most {LARGEST_BODY:,} bytes.",
}


@dataclass(frozen=True)
class Entrance:
    """Who is let in, and under which names the page is called."""

    devices: Devices
    keys: Keys
    hosts: frozenset[str]  # As the header Host has them
    let_in: Callable[[str], None]  # Told the place of a key once it is used up

    @property
    def cookie(self) -> str:
        """The name of the cookie: pages of two jobs may have the same address, with another port."""
        return f"predictor-{self.devices.job[:8]}"

    def knows_sender(self) -> bool:
        """Whether the device that asks was let in."""
        token = request.cookies.get(self.cookie, "")
        try:
            return bool(token) and self.devices.knows(token)
        except OSError as error:  # a stranger is not told where the file is
            raise Refusal(HTTPStatus.INTERNAL_SERVER_ERROR, CANNOT_KNOW.format(error.strerror or error)) from None


class Refusal(Exception):
    """A request that is not granted: the status, what is said, and when to try again."""

    def __init__(self, status: HTTPStatus, said: str, wait_s: float = 0.0):
        super().__init__(said)
        self.status, self.said, self.wait_s = status, said, wait_s


def make_app(book: Book, entrance: Entrance) -> Flask:
    """The application for a job."""
    app = Flask("predictor.serving", static_folder=None)
    app.url_map.merge_slashes = False
    app.config["MAX_CONTENT_LENGTH"] = LARGEST_BODY
    app.before_request(lambda: _guard(entrance))
    app.after_request(_sealed)
    app.register_error_handler(Exception, _failed)
    routes = (*_entrance_routes(entrance), *_job_routes(book))
    for rule, name, view, method in routes:
        app.add_url_rule(rule, name, view, methods=[method], provide_automatic_options=False)
    return app


Route = tuple[str, str, Callable[..., Any], str]


def _guard(entrance: Entrance) -> None:
    """Refuse what does not come from the page itself, on a device that was let in."""
    host = request.environ.get("HTTP_HOST", "").lower()
    if host not in entrance.hosts:  # another name that leads here, as by a forged answer of a name server
        raise Refusal(HTTPStatus.FORBIDDEN, WRONG_NAME)
    if request.method not in ("GET", "HEAD") and request.headers.get("Origin") != f"http://{host}":
        raise Refusal(HTTPStatus.FORBIDDEN, "This was sent by another page than this one, so it is refused.")
    if request.endpoint is None or request.endpoint in OPEN:  # what there is not is refused by its own sentence
        return
    if not entrance.knows_sender():
        raise Refusal(HTTPStatus.UNAUTHORIZED, NOT_LET_IN)


def _entrance_routes(entrance: Entrance) -> list[Route]:
    """The page itself, its files, and the way in."""

    def static_file(name: str) -> Response:
        if name not in STATIC:
            raise Refusal(HTTPStatus.NOT_FOUND, SAID[HTTPStatus.NOT_FOUND])
        with open(os.path.join(os.path.dirname(__file__), "static", name), "rb") as file:
            return Response(file.read(), mimetype=STATIC[name])

    def way_in(key: str) -> Any:
        if entrance.knows_sender():  # it needs no key, and uses none up
            return redirect("/", HTTPStatus.SEE_OTHER)
        answer = Response(render_template("in.html", key=key))
        # with no-referrer a browser would not say which page the form is on
        answer.headers["Referrer-Policy"] = "same-origin"
        return answer

    return [
        ("/", "shell", lambda: render_template("drill.html"), "GET"),
        ("/static/<name>", "static_file", static_file, "GET"),
        ("/favicon.ico", "no_icon", lambda: Response(status=HTTPStatus.NO_CONTENT), "GET"),
        ("/in/<key>", "way_in", way_in, "GET"),
        ("/in", "let_in", lambda: _let_in(entrance), "POST"),
    ]


def _let_in(entrance: Entrance) -> Any:
    """Make a device of whoever has the key; a second tap on the button needs none."""
    answer = redirect("/", HTTPStatus.SEE_OTHER)
    if request.mimetype != "application/x-www-form-urlencoded":
        raise Refusal(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, UNKNOWN_KEY)
    if entrance.knows_sender():
        return answer
    sender = request.remote_addr or ""
    wait_s = entrance.keys.waits(sender)
    if wait_s > 0:
        raise Refusal(HTTPStatus.TOO_MANY_REQUESTS, "Too many wrong addresses. Wait a minute, then try again.", wait_s)
    place = entrance.keys.use(request.form.get("key", ""), sender)
    if place is None:
        raise Refusal(HTTPStatus.FORBIDDEN, UNKNOWN_KEY)
    token = entrance.devices.let_in()
    answer.set_cookie(entrance.cookie, token, max_age=A_YEAR_S, path="/", httponly=True, samesite="Strict")
    with contextlib.suppress(OSError):  # nobody reads the terminal any more
        entrance.let_in(place)
    return answer


def _job_routes(book: Book) -> list[Route]:
    """What is of the job. Each holds the lock of the book while it reads or writes, one piece of work at a time."""
    from predictor.serving import views

    def asked(name: str) -> str:
        return request.args.get(name, "")

    return [
        ("/state", "state", lambda: _state(book), "GET"),
        ("/save", "save", lambda: _save(book), "POST"),
        ("/log", "log", lambda: views.log_page(book, asked("box")), "GET"),
        ("/picture", "picture", lambda: _picture(views.picture(book, asked("box"), asked("lot"))), "GET"),
        ("/card", "card", lambda: _printed(views.card(book)), "GET"),
        ("/decision", "decision", lambda: _printed(views.decision(book)), "GET"),
        ("/record", "record", lambda: _printed(views.record(book)), "GET"),
    ]


def _printed(page: str | bytes, kind: str = "text/html") -> Response:
    """A page as it is printed: it has its style in it, and no script runs in it."""
    answer = Response(page, mimetype=kind)
    answer.headers["Content-Security-Policy"] = PRINTED_POLICY
    return answer


def _picture(drawn: bytes) -> Response:
    return _printed(drawn, "image/svg+xml")


def _state(book: Book) -> Response:
    """The job as it is; nothing but "unchanged" where the page has it already."""
    from predictor.serving.state import state

    with book.lock:
        found = state(book)
    answer = _json(found)
    answer.set_etag(found["version"])
    answer.make_conditional(request)
    return answer


def _save(book: Book) -> Response:
    """What becomes of an entry."""
    from predictor.serving.saves import save

    entry = _sent()
    if isinstance(entry, dict) and entry.get("job") != book.job_id:
        raise Refusal(HTTPStatus.CONFLICT, "Nothing was saved: this entry is of another job than the one served here.")
    return _json(save(book, entry))


def _sent() -> Any:
    """The values that were sent; what they are is looked at where they are saved."""
    if request.mimetype != "application/json":
        raise Refusal(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, NO_ENTRY)
    try:
        return json.loads(request.get_data().decode("utf-8"))
    except (ValueError, RecursionError):
        raise Refusal(HTTPStatus.BAD_REQUEST, NO_ENTRY) from None


def _json(found: dict[str, Any], status: HTTPStatus = HTTPStatus.OK) -> Response:
    return Response(json.dumps(found, allow_nan=False), status, mimetype="application/json")


def _sealed(answer: Response) -> Response:
    """What every answer tells the browser: run and load nothing but the page's own, keep nothing, tell nobody."""
    for name, value in SEALED.items():
        answer.headers.setdefault(name, value)
    return answer


def _failed(error: Exception) -> Response:
    """What went wrong, in a sentence; never a traceback, which a developer sees in the terminal."""
    if isinstance(error, Refusal):
        answer = _said(error.status, error.said)
        if error.wait_s:
            answer.headers["Retry-After"] = str(int(error.wait_s) + 1)
        return answer
    if isinstance(error, HTTPException):
        status = HTTPStatus(error.code or HTTPStatus.BAD_REQUEST)
        return _said(status, SAID.get(status, "This request cannot be understood."))
    if isinstance(error, InputError):
        return _said(HTTPStatus.UNPROCESSABLE_ENTITY, str(error))
    if os.environ.get(TRACE):
        traceback.print_exception(error, file=sys.stderr)
    return _said(HTTPStatus.INTERNAL_SERVER_ERROR, sentence(error))


def _said(status: HTTPStatus, said: str) -> Response:
    """Sentences, as the page or a person understands them."""
    if request.path in SPOKEN:
        # an error nobody foresaw may come after the row was written: the same entry can be sent again without harm
        unsure = request.path == "/save" and status == HTTPStatus.INTERNAL_SERVER_ERROR
        return _json({"result": "unsure" if unsure else "refused", "said": said.split("\n")}, status)
    if request.path == "/" and status == HTTPStatus.UNAUTHORIZED:  # the empty page shows what waits to be sent
        return Response(render_template("drill.html"), status)
    return Response(render_template("said.html", said=said.split("\n")), status)
