"""Pages as PDF: tags in reading order, letters that can be read, nothing torn apart at the end of a sheet."""

import itertools
import re

import pypdfium2
import pytest

from predictor.pages.blocks import Facts, Frame, Grid, Heading, Items, Lines, Page, Picture, Sign, Text
from predictor.pages.html import to_html
from predictor.pages.pdf import lacking, to_pdf
from predictor.pages.pdf_letters import fold, measure
from predictor.plots.style import new_figure
from tests.pages.pdf_reading import is_tagged, read_sheets, read_tags

LEAVES = ("H1", "H2", "H3", "P", "Lbl", "LBody", "Caption", "TH", "TD")


def made_picture(title="made up"):
    figure = new_figure(5.0, 3.0)
    axes = figure.subplots()
    axes.plot([1, 2, 3], [2, 1, 4], "o-", label="catches")
    axes.fill_between([1, 2, 3], [1, 0, 3], [3, 2, 5], alpha=0.3)
    axes.set_title(title, fontweight="bold")
    axes.set_ylabel("grams")
    axes.legend()
    return Picture(figure, "Catches of 2, 1 and 4 g.")


def every_block():
    return (
        Heading("Decided"),
        Text("Lock it.", strong=True),
        Text("A longer sentence " * 12),
        Items(("first", "second")),
        Heading("Why", 3),
        Facts((("Target", "23.7 g"), ("Rows", "3"))),
        Frame((Sign("small", "LOCK AT 14"), Lines(("Set by", "Checked by")))),
        Grid(("Line", "Net g"), (("3", "36.9"), ("4", "")), frozenset({1}), "Catches"),
        made_picture(),
    )


def leaves(data):
    return [(kind, text) for kind, text in read_tags(data) if kind in LEAVES]


def test_every_block_has_its_tag_in_reading_order():
    data = to_pdf(Page("All of it", every_block(), "a4", footer="Catches to 2026-05-01."))
    assert is_tagged(data)
    assert [(kind, " ".join(text.split())) for kind, text in leaves(data)] == [
        ("H1", "All of it"),
        ("H2", "Decided"),
        ("P", "Lock it."),
        ("P", " ".join(["A longer sentence"] * 12)),
        *[("Lbl", "•"), ("LBody", "first"), ("Lbl", "•"), ("LBody", "second")],
        ("H3", "Why"),
        *[("Lbl", "Target"), ("LBody", "23.7 g"), ("Lbl", "Rows"), ("LBody", "3")],
        *[("P", "small"), ("P", "LOCK AT 14"), ("P", "Set by"), ("P", "Checked by")],
        *[("Caption", "Catches"), ("TH", "Line"), ("TH", "Net g")],
        *[("TD", "3"), ("TD", "36.9"), ("TD", "4"), ("TD", "")],
        ("P", "Catches to 2026-05-01."),
    ]


def test_tags_lie_in_each_other_as_the_blocks_do():
    (sheet,) = read_sheets(to_pdf(Page("t", every_block(), "a4")))
    (document,) = sheet.tags
    assert document.kind == "Document"
    kinds = [each.kind for each in document.kids]
    assert kinds == ["H1", "H2", "P", "P", "L", "H3", "L", "Sect", "Table", "Figure"]
    table = document.kids[-2]
    assert [each.kind for each in table.kids] == ["Caption", "TR", "TR", "TR"]
    assert [each.scope for each in table.kids[1].kids] == ["Column", "Column"]
    items = document.kids[4]
    assert [[each.kind for each in item.kids] for item in items.kids] == [["Lbl", "LBody"]] * 2


def test_a_cell_that_names_its_row_is_a_head_of_it():
    (sheet,) = read_sheets(to_pdf(Page("t", (Grid(("Box", "Rate"), (("small", "5"),), named=True),))))
    cells = [(each.kind, each.scope) for each in sheet.tags[0].whole() if each.kind in ("TH", "TD")]
    assert cells == [("TH", "Column"), ("TH", "Column"), ("TH", "Row"), ("TD", "")]


def test_an_inverse_row_is_white_on_black_but_for_the_cell_to_write_in():
    rows = (("20.1 g", "set 15", ""), ("23.7 g", "LOCK AT 14", ""))
    data = to_pdf(Page("t", (Grid(("Weight", "Do", "Weighed"), rows, inverse=frozenset({1})),), "a5"))
    (sheet,) = read_sheets(data)
    grey = rendered(data)
    (plain,) = (each for each in sheet.pieces if "set 15" in each.text)
    (lock,) = (each for each in sheet.pieces if "LOCK AT" in each.text)
    assert grey[row_of(sheet, lock), int(lock.left) - 2] == 0
    assert grey[row_of(sheet, lock), int(lock.left) : int(lock.right)].max() > 200  # edges are grey
    assert grey[row_of(sheet, lock), int(sheet.wide) - 40] == 255
    assert grey[row_of(sheet, plain), int(plain.left) - 2] == 255


def rendered(data):
    """The first sheet in grey, a pixel for each point."""
    document = pypdfium2.PdfDocument(data)
    try:
        return document[0].render(scale=1).to_numpy()[..., 0].copy()
    finally:
        document.close()


def row_of(sheet, piece):
    """The row of pixels through a line of text."""
    return int(sheet.tall - piece.low - 3)


def test_a_picture_has_its_words_and_is_drawn_with_lines_and_letters():
    (sheet,) = read_sheets(to_pdf(Page("t", (made_picture("5 $ and 6 $"),), "a4")))
    figure = sheet.tags[0].kids[-1]
    assert figure.alt == "Catches of 2, 1 and 4 g."
    assert {"grams", "catches", "5 $ and 6 $"} <= {each.text.strip() for each in sheet.pieces}
    assert "5 $ and 6 $" in figure.text
    assert sheet.images == 0


def test_everything_painted_is_in_a_tag_or_marked_as_decoration():
    rows = tuple((str(k), "36.9") for k in range(90))
    page = Page("t", (*every_block(), Grid(("Line", "Net g"), rows)), "a5")
    sheets = read_sheets(to_pdf(page))
    assert len(sheets) > 2
    assert [each.unmarked for each in sheets] == [0] * len(sheets)
    for k, sheet in enumerate(sheets, 1):
        aside = "".join(sheet.aside)
        assert f"page {k} of {len(sheets)}" in aside
        assert re.fullmatch(r"(Line\s*Net g\s*)?page \d+ of \d+\s*t\s*", aside), aside


def test_the_file_says_its_language_and_shows_its_title():
    data = to_pdf(Page("Settings: Made-up drill", (Text("x"),)))
    assert re.search(rb"/Lang \(en\)", data)
    assert re.search(rb"/DisplayDocTitle true", data)
    assert re.search(rb"/Marked true", data)
    assert re.search(rb"/Title \(Settings: Made-up drill\)", data)


def test_a_head_that_is_repeated_is_read_out_once():
    rows = tuple((str(k), "36.9") for k in range(150))
    data = to_pdf(Page("t", (Grid(("Line", "Net g"), rows),), "a4"))
    assert [text.strip() for kind, text in leaves(data) if kind == "TH"] == ["Line", "Net g"]
    assert [text.strip() for kind, text in leaves(data) if kind == "TD"] == [each for row in rows for each in row]
    for sheet in read_sheets(data):
        assert sum(piece.text.strip() == "Net g" for piece in sheet.pieces) == 1


def test_one_sheet_has_no_number_and_several_have():
    assert not read_sheets(to_pdf(Page("t", (Text("x"),))))[0].aside
    sheets = read_sheets(to_pdf(Page("t", (Text("word " * 2000),))))
    assert [any(f"page {k} of {len(sheets)}" in each for each in sheet.aside) for k, sheet in enumerate(sheets, 1)]


FOLLOWED = {
    "table": Grid(("Line", "Net g"), tuple((str(k), "36.9") for k in range(40)), caption="Catches"),
    "short table": Grid(("Line", "Net g"), (("1", "36.9"),) * 12),
    "high table": Grid(("Line", "Note"), tuple((str(k), "word " * 60) for k in range(12))),
    "picture": made_picture(),
    "frame": Frame((Sign("small", "LOCK AT 14"), Text("word " * 80))),
    "paragraph": Text("word " * 90),
    "list": Items(("word " * 40, "word")),
    "facts": Facts((("Target", "23.7 g"),) * 5),
}


@pytest.mark.parametrize(
    "name", [each if each == "table" else pytest.param(each, marks=pytest.mark.slow) for each in FOLLOWED]
)
def test_no_heading_stands_alone_at_the_foot_of_a_sheet(name):
    """Whatever stands above it: the sheet of a heading has something of what it heads."""
    blocks = []
    for k in range(40):
        head = (Heading(f"Head {k}"), Heading(f"Lower {k}", 3), Text(f"Strong {k}", strong=True))
        blocks += [*head, FOLLOWED[name], Facts((("above", "the next"),) * k)]
    sheets = [[each for tag in sheet.tags for each in tag.whole()] for sheet in _sheets(blocks)]
    foot = 0
    for k in range(40):
        (tags,) = (each for each in sheets if f"Head {k}" in [tag.text for tag in each])
        texts = [each.text for each in tags]
        at = texts.index(f"Strong {k}")
        assert texts[at - 1] == f"Lower {k}"
        after = [each.kind for each in tags[at + 1 :] if each.text.strip() not in ("above", "the next")]
        if name == "paragraph":
            assert after[0] == "P", k
        else:
            assert {"TD", "Figure", "LBody", "Sect"} & set(after[:12]), k
            assert after.count("TD") >= 4 or "TH" not in after or name == "high table", k
        foot += texts[-1] != "the next"
    assert foot


def _sheets(blocks):
    return read_sheets(to_pdf(Page("t", tuple(blocks), "a5")))


@pytest.mark.slow
def test_a_paragraph_does_not_leave_its_last_line_alone():
    blocks = []
    for k in range(40):
        blocks += [Text(f"word{k} " * 150), Facts((("above", "the next"),) * k)]
    seen = [[word for piece in sheet.pieces for word in set(piece.text.split())] for sheet in _sheets(blocks)]
    split = 0
    for k in range(40):
        counts = [found for sheet in seen if (found := sheet.count(f"word{k}"))]
        assert 1 not in counts, k
        split += len(counts) > 1
    assert split > 2


HEADER = ("Box", "Lot", "Species", "Pure %", "Germ. %", "Dormant %", "Hard %", "PLS %", "Tested", "Bulk lb/ac", "Seeds")
ROW = ("chaffy", "LB-261", "little bluestem", "62", "71", "6", "0", "44.02", "2026-08-12", "5.45", "240,670 (table)")
WIDE = Grid(HEADER, (ROW,) * 3)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_word_of_a_table_is_broken(paper):
    (sheet,) = read_sheets(to_pdf(Page("t", (WIDE,), paper)))
    lines = {word for piece in sheet.pieces for word in piece.text.split()}
    assert {word for row in (WIDE.header, *WIDE.rows) for cell in row for word in cell.split()} <= lines


def test_a_long_word_stays_whole_beside_long_texts():
    word = "x" * 30
    (sheet,) = read_sheets(to_pdf(Page("t", (Grid(("a",) * 6, ((word, *["text " * 30] * 5),)),), "a5")))
    assert word in [piece.text.strip() for piece in sheet.pieces]


def test_short_words_stay_whole_beside_a_very_long_one():
    grid = Grid(("Date", "Box", "Lot"), (("2026-11-25", "chaffy", "x" * 300),))
    (sheet,) = read_sheets(to_pdf(Page("t", (grid,), "a4")))
    assert {"2026-11-25", "chaffy"} <= {piece.text.strip() for piece in sheet.pieces}
    assert min(piece.points for piece in sheet.pieces) > 8


def test_a_table_too_wide_for_its_sheet_takes_smaller_letters_but_none_below_six_points():
    sizes = {}
    for paper in ("letter", "a5"):
        (sheet,) = read_sheets(to_pdf(Page("t", (WIDE,), paper)))
        sizes[paper] = min(piece.points for piece in sheet.pieces)
    assert sizes["letter"] > sizes["a5"] >= 6 - 1e-3


def test_text_stays_in_its_column():
    for paper in ("letter", "a5"):
        (sheet,) = read_sheets(to_pdf(Page("t", (WIDE,), paper)))
        rows = {}
        for piece in sheet.pieces[1:]:
            rows.setdefault(round(piece.low), []).append((piece.left, piece.right))
        for spans in rows.values():
            spans.sort()
            assert all(one[1] <= other[0] + 0.5 for one, other in itertools.pairwise(spans))
            assert spans[-1][1] <= sheet.wide - 25


def test_small_print_has_six_points_where_a_card_is_full():
    frames = tuple(Frame((Sign(f"box {k}", "LOCK 4"), Facts((("Chance", "97 in 100"),) * 6))) for k in range(7))
    sheets = read_sheets(to_pdf(Page("t", (*frames, Text("note", small=True)), "half-letter", one=True)))
    assert min(piece.points for sheet in sheets for piece in sheet.pieces) == pytest.approx(6.0, abs=0.01)


def test_a_row_longer_than_a_sheet_goes_on_on_the_next():
    note = " ".join(f"w{k}" for k in range(4000))
    data = to_pdf(Page("t", (Grid(("Line", "Note"), (("1", note), ("2", "x" * 3000))),), "a4"))
    cells = " ".join(text for kind, text in leaves(data) if kind == "TD")
    assert len(read_sheets(data)) > 2
    assert all(f"w{k}" in cells.split() for k in range(4000))
    assert cells.count("x") == 3000


def test_letters_that_the_font_lacks_are_boxes_and_are_named():
    page = Page("测试 A", (Text("試 é Ж ✓"), Grid(("Lot",), (("🌾\ufe0f1",),)), made_picture("测 שלום")), "a4")
    assert lacking(page) == ("测", "试", "試", "🌾", "ש", "ל", "ו", "ם")
    data = to_pdf(page)
    found = leaves(data)
    assert found[0] == ("H1", "▯▯ A")
    assert ("P", "▯ é Ж ✓") in found
    assert ("TD", "▯1") in found
    assert "▯ ▯▯▯▯" in [each.text for sheet in read_sheets(data) for each in sheet.pieces]  # in the picture
    assert found[-1][1].split(" and has ")[0] == "The PDF cannot show 8 letters"
    assert "U+6D4B, U+8BD5, U+8A66, U+1F33E" in found[-1][1]
    assert to_pdf(page) == data
    assert "测试" in to_html(page)


def test_a_page_that_lacks_nothing_says_nothing_of_letters():
    page = Page("Gräser é Ж ✓", (Text("a\tb\nc"),))
    assert lacking(page) == ()
    assert [kind for kind, _ in leaves(to_pdf(page))] == ["H1", "P"]


def test_the_same_page_gives_the_same_bytes_also_after_its_web_page():
    one, other = (Page("t", every_block(), "a4") for _ in range(2))
    first = to_pdf(one)
    to_html(other)
    assert to_pdf(other) == first
    assert to_pdf(one) == first


@pytest.mark.parametrize("alt", ["a (b \\ c) ) (", "a (b \\ c) ) ( é"])
def test_brackets_and_backslashes_in_words_for_a_picture_stay(alt):
    (sheet,) = read_sheets(to_pdf(Page("t", (Picture(made_picture().figure, alt),))))
    assert sheet.tags[0].kids[-1].alt == alt


def test_words_are_folded_whole_and_cut_behind_a_hyphen_only_where_they_must():
    assert fold("AB-1234 and more", measure("AB-1234", False), False)[0] == "AB-1234"
    assert fold("AB-1234", measure("AB-12", False), False)[0] == "AB-"
    for width in (0.5, 1.0, 3.0, 7.0):
        text = "Indiangrass 2026-05-19 x"
        lines = fold(text, width, False)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
        assert all(measure(line, False) <= width or len(line) == 1 for line in lines)
