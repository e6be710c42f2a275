"""predictor serve: the page at the drill, in the browser of this machine or on a phone."""

from __future__ import annotations

import shutil
import sys
from typing import Annotated

import typer

from predictor.commands import options
from predictor.commands.keeping import warn_if_open
from predictor.commands.output import wrapped
from predictor.errors import InputError
from predictor.format import count
from predictor.job.at_drill import AtDrill
from predictor.text import cautions

HELP = f"""Open the job as a page for the drill, here or on a phone.

Examples:

    predictor serve myjob

    predictor serve myjob --phone

    predictor serve myjob --phone --address 192.168.1.20

{options.HELP} What you tap on
the page goes into its files, by the same rules as record, check and plant. A page and commands can work on one job at
the same time. Ctrl-C ends it. What a page could not send stays in it, and is sent when the job is served again.

Without --phone only this machine can reach the page. With --phone a phone on the same network can. No internet is
needed. Nothing is encrypted: everybody on that network can read along, and could pass for your phone. So it must be a
network of your own with nobody else on it, such as the hotspot of this laptop with a password.

The address that is shown lets one device in. Then the next one is shown. A device stays let in when you serve the job
again, until you pass --forget. Pass it if a phone was lost.

{cautions.HELP}
"""
PORT = 8421


def command(
    place: options.JobPlace = options.HERE,
    phone: Annotated[bool, options.named("--phone", None, "Let a phone on the same network in.")] = False,
    port: Annotated[
        float, options.named("--port", "PORT", "Port to serve at.", options.number, above=1023, below=65536, whole=True)
    ] = PORT,
    address: Annotated[
        str | None, options.named("--address", "ADDRESS", "With --phone: the one address to let phones in at.")
    ] = None,
    forget: Annotated[bool, options.named("--forget", None, "First forget all devices that were let in.")] = False,
    no_browser: Annotated[bool, options.named("--no-browser", None, "Open no browser.")] = False,
    drill: options.DrillFile = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    units: options.UnitsOption = None,
) -> None:
    """Look at the job, open the page, serve it."""
    from predictor.serving.addresses import HERE
    from predictor.serving.book import Book
    from predictor.serving.door import Door, open_browser
    from predictor.serving.keys import Devices

    if place.file == "-":
        raise typer.BadParameter("Standard input cannot be served. Name the job.", param_hint="JOB")
    reached = _for_phones(phone, address)
    at = AtDrill(place, drill)
    _look(at)
    devices = Devices(place.folder)
    if forget:
        gone = count(devices.forget(), "device")
        _tell(f"Forgotten: {gone}. To come in again, each of them needs a new address.")
    book = Book(place, drill, tuple(history or []), not no_history, units, devices.job_of(at.log))
    door = Door(book, devices, (HERE, *reached), int(port), _tell, _show)
    door.open(lambda address: None if no_browser else open_browser(address, _tell))
    _tell(f"The page is closed. What was saved is in {place.folder.resolve()}.")


def _for_phones(phone: bool, address: str | None) -> list[str]:
    """The addresses of this machine at which phones are let in."""
    from predictor.serving.addresses import own_addresses, private_address

    if address is not None and not phone:
        raise typer.BadParameter("Pass --phone too: without it only this machine is let in.", param_hint="--address")
    if address is not None:
        try:
            return [private_address(address)]
        except ValueError as error:
            raise typer.BadParameter(str(error), param_hint="--address") from None
    found = own_addresses() if phone else []
    if phone and not found:
        raise InputError(
            "This machine is on no network of its own. Switch on its hotspot, or join the network that the phone is "
            "on, then try again. If you know the address, pass it with --address."
        )
    return found


def _look(at: AtDrill) -> None:
    """See to it that there is a job: a phone at the drill cannot mend the drill file."""
    from predictor.files.drill import read_drill

    read_drill(at.drill_file)
    for path in (at.log, at.place.folder / "field.csv", at.place.folder / "planted.csv"):
        warn_if_open(path)


def _tell(text: str) -> None:
    """A sentence, at once: whoever starts this from a script waits for it."""
    print(wrapped(text, ""), flush=True)


def _show(address: str, code: bool) -> None:
    """An address on a line of its own, and its QR code where there is a terminal to show it."""
    from predictor.serving.door import code_lines
    from predictor.text.table import OnPaper

    print(f"  {address}", flush=True)
    if not code or not sys.stdout.isatty():
        return
    on_paper = getattr(sys.stdout, "shows_paper", False)
    lines = code_lines(address, on_paper=on_paper)
    try:
        "".join(lines).encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:  # it would be a square of question marks
        return
    if len(lines[0]) <= shutil.get_terminal_size((80, 24)).columns:
        for line in lines:
            sys.stdout.write(OnPaper(line) if on_paper else line)
            print(flush=True)
