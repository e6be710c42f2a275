"""The number parser reads numbers, refuses other text, and never guesses."""

import math

import pytest
from hypothesis import given, strategies as st

from predictor.numbers import Range, parse_number, quoted
from tests import golden


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("12.4", ".", 12.4),
        ("12,4", ",", 12.4),
        (" 12.4 ", ".", 12.4),
        ("-3", ".", -3.0),
        ("−3", ".", -3.0),
        (".5", ".", 0.5),
        ("5.", ".", 5.0),
        ("007", ".", 7.0),
        ("0", ".", 0.0),
        ("0.000", ".", 0.0),
        ("1.2E+03", ".", 1200.0),
        ("1,2e-3", ",", 0.0012),
        ("1,234.5", ".", 1234.5),
        ("12,345,678", ".", 12_345_678.0),
        ("1.234,5", ",", 1234.5),
        ("12.345.678", ",", 12_345_678.0),
        ("1.234", ".", 1.234),
        ("1,234", ",", 1.234),
        ("1e308", ".", 1e308),
    ],
)
def test_numbers_are_read_as_written(text, decimal, value):
    assert parse_number(text, decimal=decimal) == value


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "nan", "NaN", "inf", "-inf", "infinity", "1_0", "1e1_0", "0x10", "1e", "e5", "--1", "1-", "1 2",
        "1..2", ".", "-", "1,2,3", "1,23,456", "12,34.5", "1234,567.8", "1.2.3", "½", "²", "٣٤", "१२",
        "1e99999", "1e999", "1e-999", "True", "1/2", "=1+1", "$5", "1'234", "1 234", "0,234.5", "9" * 41, "1\n2",
        "1\x002", "1.2e3.4", "(12)", "1d5", "1j",
    ],
)  # fmt: skip
@pytest.mark.parametrize("decimal", [".", ","])
def test_what_is_no_plain_number_is_refused_in_a_sentence(text, decimal):
    with pytest.raises(ValueError, match=r"^\".*\" .*[.)]$"):
        parse_number(text, decimal=decimal)


REFUSED = [
    ("12.4 g", {"unit": "g", "what": "a weight"}),
    ("12,4 g", {"unit": "g", "what": "a weight"}),
    ("12,4 g", {"unit": "g", "decimal": ","}),
    ("2 oz", {"unit": "g"}),
    ("95%", {"unit": "%"}),
    ("1,234 g", {"unit": "g"}),
    ("1,234", {}),
    ("1.234", {"decimal": ",", "grouped": False}),
    ("12,4", {}),
    ("12.4", {"decimal": ","}),
    ("+12.4", {}),
    ("٣٤", {}),
    ("1e999", {"what": "a weight"}),
    ("1e-999", {"what": "a weight"}),
    ("heavy", {"decimal": ","}),
]


def test_refusals_say_what_to_write():
    said = []
    for text, options in REFUSED:
        with pytest.raises(ValueError, match=r"\.$") as caught:
            parse_number(text, **options)
        said.append(f"{' '.join([text, *(f'{name}={value}' for name, value in options.items())])}: {caught.value}")
    golden.check("refused-numbers", "\n".join(said))


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (Range(2), "at least 2"),
        (Range(high=0), "at most 0"),
        (Range(1, above=True), "above 1"),
        (Range(1, 5, above=True), "above 1 and at most 5"),
        (Range(2, 5), "between 2 and 5"),
        (Range(0.2, 1e5), "between 0.2 and 100,000"),
    ],
)
def test_a_range_has_what_its_words_say(limits, words):
    assert str(limits) == words
    ends = [end for end in (limits.low, limits.high) if math.isfinite(end)]
    assert [limits.has(end) for end in ends] == [not (limits.above and end == limits.low) for end in ends]
    assert not limits.has(limits.low - 1) or limits.low == -math.inf
    assert not limits.has(limits.high + 1) or limits.high == math.inf
    assert not limits.has(math.nan)


def test_lone_group_is_thousands_where_the_caller_knows():
    assert parse_number("1,234", grouped=True) == 1234.0
    assert parse_number("1.234", decimal=",", grouped=True) == 1234.0


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_comes_back_to_the_last_digit(value):
    assert parse_number(repr(value)) == value
    assert parse_number(repr(value).replace(".", ","), decimal=",") == value


@given(st.integers(1_000_000, 10**15))
def test_grouped_thousands_are_the_number_without_its_commas(value):
    assert parse_number(f"{value:,}") == value
    assert parse_number(f"{value:,}".replace(",", "."), decimal=",") == value


@given(st.text(max_size=60), st.sampled_from([".", ","]), st.booleans())
def test_any_text_is_a_finite_number_or_a_sentence(text, decimal, grouped):
    try:
        value = parse_number(text, decimal=decimal, grouped=grouped)
    except ValueError as error:
        assert str(error).endswith(".")
        assert str(error).isprintable() or not text.isprintable()
    else:
        assert math.isfinite(value)
        assert any("0" <= digit <= "9" for digit in text)


@given(st.text(alphabet="0123456789.,-eE", max_size=12))
def test_what_is_read_without_commas_is_what_python_reads(text):
    try:
        value = parse_number(text)
    except ValueError:
        return
    assert value == float(text.replace(",", ""))


def test_quoted_text_is_short_and_cannot_reach_the_terminal():
    assert quoted("\x1b[31mred\n") == '"\\x1b[31mred\\n"'
    assert quoted("a" * 50) == '"' + "a" * 37 + '..."'
    assert quoted("‮abc") == '"\\u202eabc"'
