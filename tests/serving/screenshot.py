"""Takes the picture of the page at the drill that README shows: `python -m tests.serving.screenshot`.

The sample job is copied and served, and a catch is typed and saved on a phone. Drill, lots and weights are invented.
"""

from __future__ import annotations

import base64
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.browser import PHONE, started
from tests.conftest import SAMPLE
from tests.serving.served import ON_THE_DAY, serving
from tests.serving.tapping import APART_MS, tap, type_weight

PLACE = SAMPLE / "drill-page.png"
BOX, WEIGHT = "small", "23.9"
# To the questions about the catch: what the lever shows, and what was weighed.
ANSWERS = ("14", "Seed alone")
BESIDE = "<body style='margin:0;background:#fff;display:flex;gap:24px;width:max-content'>{}</body>"
SHOWN = "<img style='border:1px solid #000' width={} src='data:image/png;base64,{}'>"


def take(running: Any, job: Path, place: Path) -> None:
    """Save a catch of a copy of the sample job in a running browser; the keypad and the answer become one picture."""
    context = running.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]}, has_touch=True, device_scale_factor=2
    )
    with serving(job, before=ON_THE_DAY) as server:
        page = context.new_page()
        page.goto(server.addresses()[0])
        page.get_by_role("button").tap()
        page.wait_for_url("**/")
        tap(page, BOX)
        type_weight(page, WEIGHT)
        page.wait_for_timeout(APART_MS)  # until the last key is no longer black
        seen = [page.screenshot()]
        tap(page, "SAVE")
        for each in ANSWERS:
            tap(page, each)
        page.get_by_text("Saved as line").wait_for()
        page.locator("#next:enabled").wait_for()  # no key rests any more
        seen.append(page.screenshot())
    sheet = context.new_page()
    sheet.set_viewport_size({"width": 2 * PHONE[0] + 28, "height": PHONE[1] + 2})
    sheet.set_content(BESIDE.format("".join(SHOWN.format(PHONE[0], base64.b64encode(each).decode()) for each in seen)))
    sheet.screenshot(path=place)
    context.close()


def main() -> None:
    place = Path(sys.argv[1]) if len(sys.argv) > 1 else PLACE
    with tempfile.TemporaryDirectory() as folder, started(Path(folder) / "home") as running:
        job = Path(folder) / "job"
        shutil.copytree(SAMPLE, job, ignore=shutil.ignore_patterns("__pycache__"))
        take(running, job, place)
    print(f"Written: {place}")


if __name__ == "__main__":
    main()
