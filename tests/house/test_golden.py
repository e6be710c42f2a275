"""Golden files catch every change of words, and are rewritten only when asked to."""

import pytest

from tests import golden


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setattr(golden, "FOLDER", tmp_path)
    monkeypatch.delenv(golden.REWRITE, raising=False)
    (tmp_path / "said.txt").write_text("two words\nmore\n")
    return tmp_path / "said.txt"


def test_other_words_fail_and_are_shown(kept):
    golden.check("said", "two words\nmore")
    with pytest.raises(AssertionError, match=r"said\.txt has other words(.|\n)*-two words\n\+three words\n more"):
        golden.check("said", "three words\nmore\n")
    with pytest.raises(AssertionError, match=r"none\.txt is missing"):
        golden.check("none", "two words")
    assert kept.read_text() == "two words\nmore\n"


def test_words_are_rewritten_where_that_is_asked_for(kept, monkeypatch):
    monkeypatch.setenv(golden.REWRITE, "1")
    golden.check("said", "three words")
    assert kept.read_text() == "three words\n"


def test_the_words_of_a_page_are_those_a_reader_sees():
    page = "<style>p {}</style><h1>A &amp; B</h1><p>one <strong>two</strong></p><svg><text>no</text></svg>"
    page += "<table><tr><th>x</th><td>1</td></tr></table><figure aria-label='a plot'></figure>"
    assert golden.words(page).splitlines() == ["A & B", "one two", "x | 1", "[a plot]"]
