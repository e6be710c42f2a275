"""One number parser for files, options and prompts, strict enough never to misread; and ranges of allowed numbers."""

import math
import re
from dataclasses import dataclass

from predictor.unseen import visible

# Longest text that is read as a number: 24 characters are enough to write any double exactly.
LONGEST_NUMBER = 40

_NUMBER = re.compile(r"-?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?").fullmatch
_THOUSANDS = re.compile(r"-?[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?").fullmatch
_ONE_GROUP = re.compile(r"-?[1-9][0-9]{0,2},[0-9]{3}").fullmatch
_OTHER_DECIMAL = re.compile(r"-?[0-9]*,[0-9]+").fullmatch
_WITH_UNIT = re.compile(r"(-?[0-9][0-9.,]*)\s*([^\W\d_][^\d]*|%)").fullmatch
_SWAPPED = str.maketrans(",.", ".,")


@dataclass(frozen=True)
class Range:
    """Which numbers are allowed."""

    low: float = -math.inf
    high: float = math.inf
    above: bool = False  # Whether `low` itself is not allowed

    def has(self, value: float) -> bool:
        """Whether a number is allowed."""
        return (self.low < value if self.above else self.low <= value) and value <= self.high

    def __str__(self) -> str:
        low, high = (f"{end:,.0f}" if 1e3 <= abs(end) < 1e15 else f"{end:.4g}" for end in (self.low, self.high))
        if self.above:
            return f"above {low}" if math.isinf(self.high) else f"above {low} and at most {high}"
        if math.isinf(self.high):
            return f"at least {low}"
        return f"at most {high}" if math.isinf(self.low) else f"between {low} and {high}"


def quoted(text: str) -> str:
    """Text as a message shows it: in quotes, no longer than 40 characters, without control characters."""
    return f'"{visible(clipped(text))}"'


def clipped(text: str, most: int = 40) -> str:
    """Text of no more than so many characters; dots stand for the rest."""
    return text if len(text) <= most else text[: most - 3] + "..."


def parse_number(
    text: str, *, decimal: str = ".", what: str = "a number", unit: str = "", grouped: bool = False
) -> float:
    """The number a text stands for; raises a ValueError with a sentence if it is not a number.

    It may have a minus sign, digits, the decimal sign, an exponent as spreadsheets write it (`1.2E+03`), and thousands
    in groups of three where they cannot be a decimal fraction (`1,234.5`, `12,345,678`). Everything else is refused,
    above all what Python's own `float` would take: `nan`, `inf`, `1_0`, digits of other scripts.
    """
    text = text.strip()
    # from here on the decimal sign is "."
    plain = text if decimal == "." else text.translate(_SWAPPED)
    if not plain.isascii():
        plain = plain.replace("−", "-")
    value = math.nan
    if len(plain) <= LONGEST_NUMBER:
        if _NUMBER(plain):
            value = float(plain)
        elif _THOUSANDS(plain) and (grouped or not _ONE_GROUP(plain)):
            value = float(plain.replace(",", ""))
    if math.isnan(value):
        raise ValueError(_why_not(text, plain, decimal, what, unit))
    if math.isinf(value) or (value == 0 and any(digit in plain.lower().split("e")[0] for digit in "123456789")):
        raise ValueError(f"{quoted(text)} is too {'large' if value else 'small'} to be {what}.")
    return value


def _why_not(text: str, plain: str, decimal: str, what: str, unit: str) -> str:
    """The sentence for a text that is not a number; `plain` is it with "." as decimal sign."""

    def written(number: str) -> str:
        return number if decimal == "." else number.translate(_SWAPPED)

    found = quoted(text)
    if len(plain) <= LONGEST_NUMBER:
        if _ONE_GROUP(plain):
            whole, fraction = plain.replace(",", ""), plain.replace(",", ".")
            return f"{found} can be read in two ways. Write {whole} or {written(fraction)}."
        if _OTHER_DECIMAL(plain):
            fraction = written(plain.replace(",", "."))
            return f'{found} is not {what} here, where the decimal sign is "{decimal}". Write {fraction}.'
        if match := _WITH_UNIT(plain):
            number, word = match[1].replace(",", "."), match[2].strip().rstrip(".").lower()
            if unit and word != unit:
                return f"{found} is not {what}. Write the number alone, in the unit the header names ({unit})."
            if _NUMBER(number) and not _THOUSANDS(match[1]):
                return f"{found} is not {what}. Write the number alone, here {written(number)}."
            return f"{found} is not {what}. Write the number alone."
        if plain[:1] == "+" and _NUMBER(plain[1:]):
            return f"{found} is not {what}. Write it without the plus sign, {written(plain[1:])}."
    if any(letter.isdigit() and letter > "9" for letter in text):
        return f"{found} is not {what}. Write it with the digits 0 to 9."
    return f"{found} is not {what}. Write it in plain digits, such as {written('12.4')}."
