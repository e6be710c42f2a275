"""A laptop made up for tests of the page alone: it gives the page its files, a state and the replies a test wants.

The job in it is invented. What the real laptop says is tested with the real one.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

from tests.conftest import ROOT

ADDRESS = "http://drill.test/"  # no secure context, as a phone sees the laptop
SERVING = ROOT / "predictor" / "serving"
FILES = {
    "/": ("templates/drill.html", "text/html; charset=utf-8"),
    "/static/drill.js": ("static/drill.js", "text/javascript; charset=utf-8"),
    "/static/drill.css": ("static/drill.css", "text/css; charset=utf-8"),
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
CAUTIONS = "Keep the drill hitched, chocked and on stands, and your hands off it until everything has stopped."
Reply = Callable[[dict[str, Any]], "dict[str, Any] | int | None"]

# A question about a weight
ODD = {
    "key": "far",
    "text": "99 g is far from the 23.3 g expected at 14.5. Is it right?",
    "problem": "",
    "name": "",
    "input": "",
    "usual": "",
    "choices": [
        {"label": "It is right: keep it", "answer": "y"},
        {"label": "The meters were not charged", "set": {"charged": "no"}},
        {"label": "Misread: type it again", "again": True},
        {"label": "Bridged", "answer": "y", "set": {"use": "no", "note": "bridged or spilled"}},
    ],
}


def asking(question: dict[str, Any], until: Callable[[dict[str, Any]], Any]) -> Reply:
    """Replies of a laptop that asks a question until something is true of the entry."""
    return lambda entry: None if until(entry) else {"result": "ask", "question": question}


def box(name: str, lot: str, headline: str, setting: str, *, ready: bool = False, **more: Any) -> dict[str, Any]:
    """A box of the state."""
    verb = headline.removesuffix(setting).strip()
    return {
        "box": name,
        "lot": lot,
        "tab": headline,
        "ready": ready,
        "answer": {
            "headline": headline,
            "verb": verb.lower(),
            "setting": setting,
            "where": "",
            "then": "",
            "other": "",
            "chance": "98 in 100",
            "not_yet": "" if ready else "not caught there yet",
            "sure": "98 in 100" if ready else "not caught there yet (98 in 100)",
            "reason": "This setting is more likely to be on target. Make the next catch there.",
            "made": "28 turns, 3 rows",
            "charge": "5 turns to charge",
            "target": "23.3 g",
            "zone": "21.0 to 25.6 g",
            "expected": "23.3 g",
            "usual": "20.9 to 25.8 g",
            "of": "the standing drill is within 10 % of target",
        },
        "catch": {
            "lot": lot,
            "setting": setting,
            "source": "advised; last catch at 15",
            "turns": "28",
            "counted": "wheel turns",
            "towed_in": "ft",
            "rows": "3",
            "made": "28 turns, 3 rows",
            "charge": "5 turns to charge",
            "target": "23.3 g",
            "weighed": "of seed alone",
        },
        "lots": [lot],
        "settings": [],
        "more": ["2 catches used."],
        "look_at": [],
        "open": [],
        "last": None,
        **more,
    }


def boxes() -> list[dict[str, Any]]:
    """Three boxes, one of which is left to catch."""
    return [
        box("chaffy", "tall mix", "LOCK AT 4", "4", ready=True, settings=["1", "2", "3", "4", "5", "6"]),
        box("grain", "CW-26", "LOCK AT 33", "33", ready=True),
        box("small", "forb mix", "SET 14.5", "14.5"),
    ]


class Laptop:
    """Answers the page in a context; `down` is a laptop that does not answer."""

    def __init__(self, reply: Reply | None = None) -> None:
        self.down = False
        self.lost = 0  # So many next saves are done, but their replies are lost
        self.reply = reply or (lambda entry: None)
        self.posts: list[dict[str, Any]] = []
        self.rows: dict[str, dict[str, Any]] = {}  # What was saved, by id, in order
        self.state: dict[str, Any] = {
            "schema": 1,
            "job": "0123456789abcdef0123456789abcdef",
            "version": "1",
            "day": "2026-11-27",
            "name": "made-up job",
            "problems": [],
            "messages": [],
            "next": {"step": "catch", "boxes": ["small"], "sentence": "Next: box small is left."},
            "results": [],
            "cautions": CAUTIONS,
            "towing": "Nobody rides on a towed drill.",
            "boxes": boxes(),
        }

    def serve(self, context: Any) -> None:
        """Answer whatever this context asks for."""
        context.route("**/*", self._answer)

    def box(self, name: str) -> dict[str, Any]:
        """A box of the state, to change."""
        return next(each for each in self.state["boxes"] if each["box"] == name)

    def changed(self) -> None:
        """Tell the page that there is another state."""
        self.state["version"] += "1"

    def weights(self) -> list[str]:
        """The catches that are saved and not taken back, in order."""
        gone = {each["values"].get("entry") for each in self.rows.values() if each["kind"] == "undo"}
        return [each["values"]["catch"] for id, each in self.rows.items() if each["kind"] == "catch" and id not in gone]

    def _answer(self, route: Any) -> None:
        path = "/" + route.request.url.split("/", 3)[3].split("?")[0]
        if self.down:
            route.abort("connectionrefused")
        elif path in FILES:
            name, kind = FILES[path]
            headers = {"Content-Type": kind, "Content-Security-Policy": POLICY}
            route.fulfill(body=(SERVING / name).read_bytes(), headers=headers)
        elif path == "/state":
            same = route.request.headers.get("if-none-match") == f'"{self.state["version"]}"'
            route.fulfill(status=304) if same else route.fulfill(json=self.state)
        elif path == "/save":
            self._save(route)
        else:
            route.fulfill(status=404, json={"result": "refused", "said": ["There is no such page."]})

    def _save(self, route: Any) -> None:
        assert route.request.headers["content-type"] == "application/json"
        entry = json.loads(route.request.post_data)
        self.posts.append(copy.deepcopy(entry))
        reply = self.reply(entry)
        if isinstance(reply, int):
            route.fulfill(status=reply, json={"result": "refused", "said": ["The laptop refuses this."]})
            return
        if reply is None:
            reply = self._saved(entry)
        if self.lost:
            self.lost -= 1
            route.abort("connectionreset")
        else:
            route.fulfill(json=reply)

    def _saved(self, entry: dict[str, Any]) -> dict[str, Any]:
        self.rows.setdefault(entry["id"], entry)
        line = [*self.rows].index(entry["id"]) + 2
        what = entry["values"].get("catch", entry["kind"])
        said = f"Saved as line {line}: {what}."
        if entry["kind"] == "undo":
            said = f"{self.rows.get(entry['values'].get('entry'), {}).get('values', {}).get('catch', 'It')} is unused."
        self.changed()
        about = entry["values"].get("box", "small")
        return {
            "result": "saved",
            "id": entry["id"],
            "line": line,
            "said": [said],
            "box": about,
            "state": self.state,
        }
