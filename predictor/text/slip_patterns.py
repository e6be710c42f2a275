"""Slips that show in the pattern of a lot's catches, in plain words: what was seen, the likely cause, what to do."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from predictor.domain.result import Remark
from predictor.format import listed, percent, weight


def lines_in_words(lines: Iterable[int]) -> str:
    """Lines of a file or rows of a frame: "line 7", "lines 4 and 6", "lines 3 to 9"; "these catches" without any."""
    numbers = sorted({each for each in lines if each})
    if not numbers:
        return "these catches"
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"lines {numbers[0]} to {numbers[-1]}"
    return f"lines {listed(map(str, numbers))}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _keep(lines: Iterable[int]) -> str:
    """How to stand by rows."""
    them = lines_in_words(lines)
    return f"If they are right, write yes in the column confirmed of {them}."


def _half(remark: Remark) -> str:
    """The cheapest catch that tells a constant from seed."""
    if remark["towed"]:
        return "Or tow a catch over half the distance: seed halves with it, a container does not."
    return (
        f"Or make one catch of {remark['turns']:g} turns at {remark['setting']}: seed alone gives about "
        f"{weight(remark['seed_alone'])} g, with the container in it about {weight(remark['with_constant'])} g."
    )


def _along(remark: Remark) -> str:
    return (
        f"The weights fit better if about {remark['constant']:.2g} g in each of {lines_in_words(remark['lines'])} is "
        "not seed: the container was probably weighed along. Weigh the empty container, and write its weight in tare_g "
        f"if it was not taken off. {_half(remark)} If the weights are of seed alone, write 0 in tare_g."
    )


def _shut(remark: Remark) -> str:
    return (
        f"About {weight(remark['constant'])} g was weighed where the lever is shut. That is probably the container, "
        "and then it is in every weight. Weigh the empty container, and write its weight in tare_g. If seed really "
        "came, write 0 in tare_g."
    )


def _some(remark: Remark) -> str:
    return (
        f"A tare is written in some rows and not in {lines_in_words(remark['lines'])}, where the weights fit better if "
        f"{weight(remark['constant'])} g is the container. It was probably not taken off there. Write its weight in "
        "tare_g, or 0 if the weights are of seed alone."
    )


def _twice(remark: Remark) -> str:
    return (
        f"The catches fit better if the tare of {weight(remark['constant'])} g is not taken off: the weights were "
        "probably net already. Weigh one catch with and without the container. If catch_g is net, write 0 in tare_g. "
        f"{_half(remark)} {_keep(remark['lines'])}"
    )


def _trend(remark: Remark) -> str:
    rises, whole = remark["trend"] > 0, percent(abs(remark["whole"]))
    if rises:
        cause = "The meters were probably not full at the start, or seed is packing"
        do = "Turn until the meters are full and catch again; mark catches made before that use = no"
    elif remark["holds"] == "chaffy":
        cause = "Seed is probably bridging, or the box is emptying"
        do = "Stir, fill the box to half and catch again"
    else:
        cause = "The box is probably emptying, or seed and carrier are separating"
        do = "Mix, fill the box to half and catch again"
    filled = "" if remark["filled"] else " Write how full the box is in fill_pct."
    return (
        f"Output {'rises' if rises else 'falls'} from catch to catch, by about {whole} % over {remark['catches']} "
        f"catches. {cause}. {do}.{filled} {_keep(remark['lines'])}"
    )


def _copies(remark: Remark) -> str:
    copies, first = lines_in_words(remark["lines"]), lines_in_words(remark["first"])
    repeat = "repeats" if remark["copies"] == 1 else "repeat"
    return (
        f"{_capital(copies)} {repeat} {first} to the last digit. Rows were probably pasted twice. Delete the copies. "
        f"If each was a catch of its own, write yes in the column confirmed of {copies}."
    )


def _too_equal(remark: Remark) -> str:
    return (
        f"Repeated catches differ by {100 * remark['cv']:.1f} %, and a box like this one usually by about "
        f"{percent(remark['usual'])} %. Weights may have been written without weighing, or the scale was stuck. "
        f"Check the scale with a known weight and catch once more. {_keep(remark['lines'])}"
    )


def _divided(remark: Remark) -> str:
    return (
        f"The {remark['rows']} rows of {lines_in_words(remark['lines'])} weigh the same, {remark['grams']:.4g} g each. "
        "The catch was probably divided by its rows. Empty rows_g there unless each row was weighed. "
        f"{_keep(remark['lines'])}"
    )


def _rounded(remark: Remark) -> str:
    return (
        f"All weights are multiples of {remark['shown']:g} g, and the scale shows {remark['step']:g} g. Write them as "
        "the scale shows them, since rounding matters in small catches. If it shows no more, correct "
        "scale_resolution_g in drill.toml."
    )


def _differs(remark: Remark) -> str:
    share = remark["share"]
    off = f"{percent(abs(share - 1))} % {'less' if share < 1 else 'more'}"
    return (
        f"Row {remark['row']} of the {remark['rows']} rows caught gives {off} than the others in all "
        f"{remark['catches']} catches. Its meter, tube or seed cup is probably blocked, worn or set differently, or "
        "its container was weighed along. Mend it and catch again. Even at the right mean this row would stand "
        f"{'thin' if share < 1 else 'thick'} across the whole field. {_keep(remark['lines'])}"
    )


def _two_differ(remark: Remark) -> str:
    share = max(remark["share"], 1 / remark["share"])
    return (
        f"One of the two rows caught gives {percent(share - 1)} % more than the other in all {remark['catches']} "
        "catches. Check meter, tube and seed cup of both, and catch a third row to see which is wrong. Even at the "
        f"right mean they would plant stripes. {_keep(remark['lines'])}"
    )


def _sizes(remark: Remark) -> str:
    what, lines = remark["what"], lines_in_words(remark["lines"])
    return (
        f"{_capital(lines)}: {remark['written']:g} {what} are written, and the weights are those of "
        f"{remark['usual']:g}, as in the other catches. Correct the column {what} if {remark['usual']:g} were caught. "
        f"{_keep(remark['lines'])}"
    )


PATTERNS: dict[str, str | Callable[[Remark], str]] = {
    "offset": _along,
    "offset-shut": _shut,
    "offset-some": _some,
    "offset-twice": _twice,
    "falling": _trend,
    "rising": _trend,
    "copies": _copies,
    "too-equal": _too_equal,
    "divided": _divided,
    "rounded": _rounded,
    "row-differs": _differs,
    "two-rows-differ": _two_differ,
    "sizes": _sizes,
}
