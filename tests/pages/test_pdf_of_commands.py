"""The PDFs that commands write: readable letters, whole words, tags, and letters that cannot be shown are named."""

import pytest

from predictor.pages import blocks
from tests.pages.pdf_reading import is_tagged, read_sheets

PAPERS = ("a5", "half-letter", "a4", "letter")
MADE = [
    *[("card", "--paper", paper) for paper in PAPERS],
    *[("card", "--decision", "--paper", paper) for paper in PAPERS],
    *[("load", "--area-ac", "40", "--paper", paper) for paper in PAPERS],
    *[("load", "--area-ha", "16", "--units", "metric", "--paper", paper) for paper in ("a5", "letter")],
    ("report", "--paper", "letter"),
    ("report", "--units", "metric", "--paper", "a4"),
]


@pytest.fixture
def made(run, job, monkeypatch):
    """Write a PDF by a command; gives the page that it showed, the PDF and what was said."""
    from predictor.pages import pdf

    pages = []

    def noted(page, to_pdf=pdf.to_pdf):
        pages.append(page)
        return to_pdf(page)

    monkeypatch.setattr(pdf, "to_pdf", noted)

    def make(command, *options):
        done = run(command, job, "--pdf", job / "page.pdf", *options)
        assert done.returncode == 0, done.stderr
        return pages[-1], (job / "page.pdf").read_bytes(), done.stderr

    return make


def grids(content):
    for block in content:
        if isinstance(block, blocks.Grid):
            yield block
        elif isinstance(block, blocks.Frame):
            yield from grids(block.blocks)


@pytest.mark.slow
@pytest.mark.parametrize("command", MADE, ids=" ".join)
def test_a_page_on_paper_can_be_read_and_heard(made, command):
    page, data, _ = made(*command)
    sheets = read_sheets(data)
    assert is_tagged(data)
    assert [each.unmarked for each in sheets] == [0] * len(sheets)
    # also those in pictures
    small = [(piece.text, piece.points) for sheet in sheets for piece in sheet.pieces if piece.points < 6 - 1e-3]
    assert small == []
    outside = [piece.text for sheet in sheets for piece in sheet.pieces if not 20 <= piece.left <= sheet.wide - 20]
    assert outside == []
    lines = {word for sheet in sheets for piece in sheet.pieces for word in piece.text.split()}
    words = {
        word
        for grid in grids(page.blocks)
        for row in (grid.header, *grid.rows)
        for cell in row
        for word in cell.split()
    }
    assert words <= lines
    heads = [text for sheet in sheets for text in sheet.of("H1", "H2", "H3")]
    assert heads[0] == page.title
    for sheet in sheets:
        kinds = [each.kind for tag in sheet.tags for each in tag.whole()]
        assert kinds[-1] not in ("H1", "H2", "H3")
    figures = [each for sheet in sheets for tag in sheet.tags for each in tag.whole() if each.kind == "Figure"]
    assert [each.alt for each in figures] == [each.alt for each in page.blocks if isinstance(each, blocks.Picture)]


@pytest.mark.slow
def test_the_record_of_three_boxes_is_a_small_file(made):
    assert len(made("report", "--paper", "letter")[1]) <= 300_000


def test_letters_that_the_pdf_cannot_show_are_said_by_the_command(made, job):
    for name in ("trials.csv", "plan.csv", "field.csv"):
        path = job / name
        path.write_text(path.read_text(encoding="utf-8").replace("forb mix", "草 mix"), encoding="utf-8")
    _, data, said = made("card", "--box", "small")
    assert "The PDF cannot show one letter and has ▯ in its place: 草." in " ".join(said.split())
    text = "".join(piece.text for sheet in read_sheets(data) for piece in sheet.pieces)
    assert "▯ mix" in text
    assert "U+8349" in text


def test_a_command_says_nothing_of_letters_where_all_are_shown(made):
    assert "cannot show" not in made("card", "--box", "small")[2]
