"""One catch asked for at the drill: what was not given by options is a question on the terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from predictor.commands.options import rows_of
from predictor.commands.output import say, wrapped
from predictor.errors import InputError

if TYPE_CHECKING:
    from predictor.advice.result import Advice
    from predictor.domain.catch import CatchSize, Measured
    from predictor.domain.control import Setting
    from predictor.domain.drill import SeedBox
    from predictor.domain.result import Remark
    from predictor.domain.trials import Trials
    from predictor.files.entry import Catch
    from predictor.job.first import FirstSetting
    from predictor.job.job import Job

T = TypeVar("T")


@dataclass(frozen=True)
class Asked:
    """Values given by options, and answers from standard input for the rest."""

    given: Mapping[str, str | None]
    yes: bool
    weighed: bool  # Whether options gave what was weighed; usual values are then taken unasked

    def line(self, prompt: str, option: str) -> str:
        """An answer."""
        from predictor.files.text import CONTROL

        while True:
            print(wrapped(prompt, ""), end=" ", file=sys.stderr, flush=True)
            line = sys.stdin.readline() if sys.stdin is not None else ""
            if not line:
                print(file=sys.stderr)
                raise InputError(
                    f"Nothing was saved: input ended before the question was answered. Pass --{option} instead."
                )
            if not CONTROL.search(line.strip()):
                return line.strip()
            say("The answer contains an invisible character, such as an arrow key makes. Type it again.")

    def agreed(self, question: Remark) -> bool:
        """Whether the answer is yes; with --yes it is."""
        if self.yes:
            say(f"{question} Yes (--yes).")
            return True
        return self.line(f"{question} (y/n)", "yes").lower() in ("y", "yes")

    def value(self, name: str, label: str, usual: str, read: Callable[[str], T], option: str = "") -> T:
        """A value by option, or by question until it can be read; the usual one if `weighed` or the answer is empty.

        `option` is what to pass in place of the answer, where it is not called by the name.
        """
        text = self.given.get(name)
        if text is None and self.weighed and usual:
            text = usual
        if text is not None:
            try:
                return read(text)
            except ValueError as error:
                raise InputError(f"--{option or name}: {error}") from None
        while True:
            answer = self.line(f"{label} [{usual}]:" if usual else f"{label}:", option or name) or usual
            try:
                return read(answer)
            except ValueError as error:
                # a reader's sentence would quote the empty answer
                say(str(error) if answer else "Type an answer. Enter alone takes only a value in brackets.")


@dataclass(frozen=True)
class Size:
    """The size of a catch as options give it."""

    turns: float | None = None
    towed: tuple[float, Measured] | None = None  # Distance and its unit
    rows: float | None = None


def ask_catch(asked: Asked, job: Job, given: Size) -> Catch:
    """The catch that was given and asked for; slips are asked about."""
    from predictor.files.entry import Catch, read_box, read_fill, read_weight
    from predictor.job.entry import advice_on, expected_g
    from predictor.job.first import first_setting
    from predictor.slips.typed import questions
    from predictor.text.drill import charge_words, size_words
    from predictor.units import METRES

    names = ", ".join(each.name for each in job.drill.boxes)
    last = str(job.trials.box[-1]) if len(job.trials) else ""
    box = asked.value("box", f"Box ({names})", last, lambda text: read_box(text, job.drill))
    lot = _lot(asked, job, box)
    mine, advice = job.trials.of(box=box.name), advice_on(job, box, lot)
    first = first_setting(job, box, lot)
    advice = first.advice if first else advice
    setting = _setting(asked, box, mine, advice, first)
    tare = asked.value("tare", "", "0", read_weight).grams if asked.given["tare"] else 0.0
    size = _size(asked, job, box, lot, advice, given)
    rows = int(size.rows)
    turns = size.length * METRES[size.counted] / job.drill.covers_of(box) if size.counted in METRES else size.length
    read = partial(read_weight, tare_g=tare, most_rows=job.drill.rows_of(box))
    charge = f" after {charge_words(job.drill.catch_of(box), size)}" if size.counted in METRES else ""
    label = f"Weight of {size_words(size)}{charge}, g (+ between rows, / between equal parts)"
    while True:
        weight = asked.value("catch", label, "", read)
        catch = Catch(box, lot, setting, weight, size.length, weight.rows(rows), counted=size.counted)
        expected = expected_g(advice, setting, turns * catch.rows)
        if all(asked.agreed(each) for each in questions(catch, mine, rows=rows, expected_g=expected)):
            break
        if asked.weighed:
            raise InputError("Nothing was saved. Record the catch again.")
    if asked.given["fill"] is None and (box.holds != "chaffy" or asked.weighed):
        return catch
    fill = asked.value("fill", "How full is the box, per cent (Enter if you have not looked)", "", read_fill)
    return replace(catch, fill_pct=fill)


def _size(asked: Asked, job: Job, box: SeedBox, lot: str, advice: Advice | None, given: Size) -> CatchSize:
    """The size of the catch: by option, else as it was advised; of a weight by option that of the drill file."""
    from predictor.domain.catch import CatchSize
    from predictor.job.entry import asked_size

    # nobody is shown the size of a weight given by option, so it must not depend on the catches before
    by_option = asked.weighed
    usual = asked_size(job, box, None if by_option else advice)
    rows = rows_of(given.rows, job.drill, box) or usual.rows
    if given.towed is not None:
        return CatchSize(*given.towed, rows)
    if given.turns is not None:
        return CatchSize(given.turns, job.drill.catch_of(box).counted, rows)
    if by_option and job.is_towed(box, lot):
        raise InputError(
            f"Nothing was saved: the drill was towed for the last catch of {lot}. Pass --distance-ft or "
            "--distance-m, or --turns if it stood this time."
        )
    return CatchSize(usual.length, usual.counted, rows)


def _lot(asked: Asked, job: Job, box: SeedBox) -> str:
    """The lot of the catch; one that is new in the box is asked about."""
    from predictor.domain.result import Remark
    from predictor.job.entry import lot_to_catch, lots_of, named_lot

    def read(text: str) -> str:
        name = named_lot(job, box, text)
        if name.lower() != " ".join(text.lower().split()):
            say(str(Remark("log.part_of_blend", {"part": text, "blend": name})))
        return name

    lot, known = asked.value("lot", "Lot", lot_to_catch(job, box), read), lots_of(job, box)
    if known and lot not in known and not asked.agreed(Remark("log.new_lot", {"lot": lot, "box": box.name})):
        raise InputError("Nothing was saved. Record the catch again with the lot's right name.")
    return lot


def _setting(asked: Asked, box: SeedBox, mine: Trials, advice: Advice | None, first: FirstSetting | None) -> Setting:
    """The setting of the catch; where the last one and the advised one differ, Enter could mean either."""
    from predictor.domain.drives import LeverAndDrive
    from predictor.files.entry import setting_of
    from predictor.files.settings import example_of

    label, usual = "Setting", next(iter(mine.setting[-1:].tolist()), "")
    caught = advice is not None and advice.catches_used + advice.catches_left_out
    advised = advice.advised.text if advice is not None and advice.advised is not None and caught else ""
    if first is not None:
        last = f"; last catch at {usual}" if usual else ""
        label = f"Setting (advised {first.setting}, {first.source}{last})"
        # Enter takes what earlier lots say, but neither the middle nor the setting of another lot
        learned = first.advice.curve is not None and not asked.weighed
        usual = first.setting.text if learned and usual in ("", first.setting.text) else ""
    elif usual and advised not in ("", usual) and not asked.weighed:
        label, usual = f"Setting (advised {advised}; last catch at {usual})", ""
    elif not usual and isinstance(box.control, LeverAndDrive):
        label = f"Setting (lever reading and drive, as {example_of(box.control)})"
    return asked.value("setting", label, usual, lambda text: setting_of(text, box))
