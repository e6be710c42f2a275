"""The setting card: what it says of a box at every stage, and how large its letters are. All jobs are made up."""

import math
import re

import pypdfium2
import pytest

from predictor import read_job
from predictor.field.filling import Refill, refill
from predictor.format import weight, weights
from predictor.pages import panels
from predictor.pages.blocks import Page, Panel
from predictor.pages.cards import CardBox, setting_page
from predictor.pages.html import to_html
from predictor.pages.pdf import to_pdf
from predictor.text.cards import behind_all
from tests import golden
from tests.pages.checking import self_contained
from tests.pages.pdf_reading import read_sheets
from tests.running import TODAY
from tests.slips.waiting import found

MM_PER_POINT = 25.4 / 72
LEVER = 'control = "lever"\nhighest = 60'
DRIVES = 'drives = [{label = "high", driver = 24, driven = 12}, {label = "low", driver = 12, driven = 48}]'
# 12 lb/ac on 28 turns of 7.2 ft in three rows of 7.5 in
GRAMS_PER_LB_AC = 453.59237 / 4046.8564224 * 28 * 3 * 7.2 * 0.3048 * 7.5 * 0.0254
PAPERS = ["half-letter", *(pytest.param(each, marks=pytest.mark.slow) for each in ("a5", "a4", "letter"))]
READY = (20, 24, 24, 24)
SCATTERED = (14, 31, 22, 17, 29, 21)  # A sixth of them lie 40 % off their mean


def box(name, lot="A", settings=READY, weights=None, rate=6.0, control=LEVER, right=24):
    """A made-up box and its catches: nothing at 2, and the planned rate at `right`."""
    target = rate * GRAMS_PER_LB_AC
    if weights is None:
        weights = [target * (float(str(each).split()[0]) - 2) / (right - 2) for each in settings]
    head = f'[[box]]\nname = "{name}"\nholds = "free-flowing"\n{control}\n'
    rows = "".join(f'2026-11-20,"{name}","{lot}",{at},{g:.1f}\n' for at, g in zip(settings, weights, strict=True))
    return head, rows, f'"{name}","{lot}",oats,{rate},98,90\n'


def made(folder, *boxes, head=""):
    """A job of these boxes."""
    drill = 'name = "Made-up drill"\nrows = 12\nrow_spacing_in = 7.5\nrolling_circumference_ft = 7.2\n' + head
    folder.mkdir(exist_ok=True)
    (folder / "drill.toml").write_text(drill + "".join(each[0] for each in boxes))
    (folder / "trials.csv").write_text("date,box,lot,setting,catch_g\n" + "".join(each[1] for each in boxes))
    rows = "".join(each[2] for each in boxes)
    (folder / "plan.csv").write_text("box,lot,species,bulk_rate_lb_ac,purity_pct,germination_pct\n" + rows)
    return folder


def card(folder, paper="half-letter", units="us"):
    """The page of a job's setting card."""
    job = read_job(folder, today=TODAY)
    stages = job.stages_in_hand()
    boxes = [
        CardBox(each, job.plan and job.plan.target(each.box, each.lot), refill(each.task.box, None, 0.1))
        for each in stages
    ]
    return setting_page(job.drill, boxes, units, paper)


def panels_of(page):
    return {each.name: each for each in page.blocks if isinstance(each, Panel)}


def text_of(panel):
    return " ".join(panel.lines)


def letters(data):
    """Height in millimetres and text of every capital and figure on every sheet, as pdfium finds them."""
    document = pypdfium2.PdfDocument(data)
    try:
        for sheet, page in enumerate(document):
            read = page.get_textpage()
            for k in range(read.count_chars()):
                letter = read.get_text_range(k, 1)
                if letter.isascii() and (letter.isupper() or letter.isdigit()) and letter not in "JQ":
                    _, low, _, high = read.get_charbox(k)
                    yield sheet, letter, (high - low) * MM_PER_POINT
    finally:
        document.close()


@pytest.fixture
def sample(job):
    return card(job)


def test_the_first_line_says_how_many_boxes_are_not_ready_and_black_says_which(sample):
    assert sample.blocks[0].text == "1 of 3 boxes not ready (black)."
    assert [each.dark for each in panels_of(sample).values()] == ["", "", "NOT READY"]
    page = to_html(sample)
    self_contained(page)
    assert page.count('<section class="p d"') == page.count("NOT READY") == 1


def test_a_ready_box_has_weight_seeds_area_refill_and_field(sample, job):
    (advice,) = (each.advice for each in read_job(job, today=TODAY).stages_in_hand() if each.box == "chaffy")
    panel, target = panels_of(sample)["chaffy"], advice.target_catch_g
    assert (panel.verb, panel.value, panel.then) == ("LOCK AT", "4", "")
    assert panel.weight == f"{weight(target, 0.1)} g"
    assert panel.lines[0] == f"{weights(0.9 * target, 1.1 * target, 0.1)} in 28 turns, 3 rows."
    assert "In the row: 20 to 26 seeds a foot." in panel.lines
    assert "50 lb plants 4.0 ac. Refill at 35 % full." in panel.lines
    assert panel.lines[-1] == "For the standing drill: make a field check on the first acre."


def test_a_box_that_was_checked_says_what_the_check_found(sample, job):
    verdict = read_job(job).verdict("grain", "CW-26")
    limits = f"{100 * verdict.ratio_lower:.0f} to {100 * verdict.ratio_upper:.0f}"
    said = f"Field check at 17: {100 * verdict.ratio:.0f} % of target ({limits})."
    assert panels_of(sample)["grain"].lines[-1] == said


def test_an_unready_box_shows_its_next_catch_and_why_and_nothing_else(sample):
    panel = panels_of(sample)["small"]
    assert (panel.verb, panel.value, panel.then) == ("SET", "14", "CATCH AGAIN")
    size, why = panel.lines
    assert re.fullmatch(r"[\d.]+ to [\d.]+ g in 28 turns, 3 rows, after 5 turns to charge\.", size)
    assert why.startswith("This setting is more likely to be on target")


def test_a_catch_that_is_to_be_longer_is_shown_with_its_own_weight_and_turns(tmp_path):
    """The catches scatter by a fifth: the weight beside `larger catches` is that of the larger catch."""
    target = 6 * GRAMS_PER_LB_AC
    spread = [each * target / 22.3 for each in SCATTERED]
    folder = made(tmp_path / "job", box("grain", settings=(24,) * 6, weights=spread))
    (advice,) = (each.advice for each in read_job(folder, today=TODAY).stages_in_hand())
    assert (advice.decision, advice.turns) == ("lengthen", 28)
    assert advice.next_turns >= 2 * 28
    panel = panels_of(card(folder))["grain"]
    assert panel.then == "LARGER CATCHES"
    longer = target * advice.next_turns * advice.next_rows / (28 * 3)
    shown = float(panel.weight.removesuffix(" g"))
    assert shown == pytest.approx(longer, abs=0.5)
    low, high = map(float, re.match(r"([\d.]+) to ([\d.]+) g", panel.lines[0]).groups())
    assert (low, high) == (pytest.approx(0.9 * longer, abs=0.5), pytest.approx(1.1 * longer, abs=0.5))
    assert f" in {advice.next_turns:g} turns, {advice.next_rows:g} rows, after 5 turns to charge." in panel.lines[0]
    assert f"{weight(target, 0.1)} g" not in panel.weight


def test_out_of_reach_has_reason_and_remedy_and_no_setting(tmp_path):
    folder = made(tmp_path / "job", box("cover", settings=(50, 60, 60), weights=(20.0, 25.0, 24.5), rate=60))
    panel = panels_of(card(folder))["cover"]
    assert (panel.verb, panel.value, panel.then, panel.weight) == ("OUT OF REACH", "", "", "")
    assert panel.dark
    assert "below target" in text_of(panel)
    assert "faster" in text_of(panel)
    assert not re.search(r"\b(60|50)\b", to_html(card(folder)).split('class="p d"')[1].split("</section>")[0])


def test_the_log_is_looked_at_first_without_a_setting_or_weight(job):
    with found("chaffy", 16):
        panel = panels_of(card(job))["chaffy"]
    assert (panel.verb, panel.value, panel.weight) == ("CHECK THE LOG FIRST", "", "")
    assert panel.dark
    assert text_of(panel).startswith("Line 16, ")


def test_a_setting_with_a_drive_has_the_drive_below_in_smaller_letters(tmp_path):
    at = [f"{each} on high" for each in READY]
    folder = made(tmp_path / "job", box("grain", settings=at, control=f"{LEVER}\n{DRIVES}"))
    page = card(folder)
    panel = panels_of(page)["grain"]
    assert (panel.value, panel.with_value) == ("24", "on high")
    assert "LOCK AT 24 on high" in golden.words(to_html(page))


def planted(run, folder, setting, day, *more):
    options = ("--box", "grain", "--lot", "A", "--setting", setting, "--field", "north", "--area-ac", "5")
    done = run("plant", folder, *options, "--on", day, "--yes", stdin="")
    assert done.returncode == 0, done.stderr


def test_a_planted_box_says_where_and_when(run, tmp_path):
    folder = made(tmp_path / "job", box("grain"), head='[[field]]\nname = "north"\narea_ac = 5\n')
    planted(run, folder, "24", "2026-11-22")
    page = card(folder)
    panel = panels_of(page)["grain"]
    assert (panel.verb, panel.value, panel.where, panel.dark) == ("PLANTED AT", "24", "(north, 22 Nov)", "")
    assert "PLANTED AT 24 (north, 22 Nov)" in golden.words(to_html(page))


@pytest.mark.parametrize(
    ("ratios", "verb", "dark"),
    [((0.8, 0.8), "MOVE FROM 24 TO", ""), ((1.9,), "CHECK THAT WEIGHING FIRST", "NOT READY")],
)
def test_what_a_check_says_comes_before_the_lock(tmp_path, ratios, verb, dark):
    folder = made(tmp_path / "job", box("grain"))
    rows = "".join(f"2026-11-22,grain,A,24,5,{30 * each:.2f}\n" for each in ratios)  # 5 ac at 6 lb/ac are 30 lb
    (folder / "field.csv").write_text("date,box,lot,setting,area_ac,seed_used_lb\n" + rows)
    page = card(folder)
    panel = panels_of(page)["grain"]
    assert (panel.verb, panel.dark) == (verb, dark)
    assert bool(panel.value) == (not dark)
    if not dark:
        assert "Check again at" in panel.lines[-1]
        assert f"{panel.verb} {panel.value} FOR THE REST" in golden.words(to_html(page))


def test_a_full_box_takes_the_place_of_a_bag(run, job):
    """18 kg at 6.20 kg/ha are 2.9 ha."""
    path = job / "drill.toml"
    path.write_text(path.read_text().replace('name = "chaffy"', 'name = "chaffy"\nfull_kg = 18'))
    lines = text_of(panels_of(card(job, "a5", "metric"))["chaffy"])
    assert "A full box (18 kg) plants 1.3 ha." in lines
    assert "on the first hectare" in lines
    page = re.sub(r"<style>.*?</style>", "", to_html(card(job, "a5", "metric")), flags=re.DOTALL)
    assert "lb" not in page.replace("assembl", "")


def test_the_seeds_in_a_row_have_limits_of_95_in_100(job):
    """2.3 lb/ac of live seed, 88 % alive, in rows of 7.5 in: 0.625 ft2 to the foot.

    The table has 97,000 a pound, and its sources 83,200 to 114,000: half of that range is one standard deviation.
    """
    seeds = 2.3 / 0.88 * 97_000 / 43_560 * 0.625
    low, high = (seeds * math.exp(each * 1.96 * math.log(114 / 83.2) / 2) for each in (-1, 1))
    page = card(job)
    assert f"In the row: {low:.1f} to {high:.1f} seeds a foot." in panels_of(page)["grain"].lines
    words = to_html(page)
    assert f"In the row {low:.1f} to {high:.1f} pure seeds a foot." in words
    assert words.count("95 % limits from the count of seeds in a pound") == 1


def test_the_basis_of_refilling_is_said_once_and_by_box_where_it_differs(job):
    drill, assumed, seen = read_job(job, today=TODAY).drill, Refill(0.25, 0.02, False), Refill(0.3, 0.04, True)
    assert behind_all([], {"a": assumed, "b": assumed}, drill, "us").endswith("half full: assumed, not measured here.")
    words = behind_all([], {"a": assumed, "b": seen, "c": assumed}, drill, "us")
    assert words.endswith("half full: assumed, not measured here (a, c); as the catches showed (b).")


def test_front_and_back_are_one_small_file_and_the_same_again(run, job):
    pages = []
    for _ in range(2):
        done = run("card", job / "trials.csv", "--pdf", job / "card.pdf", "--out", job / "card.html")
        assert done.returncode == 0
        pages.append(((job / "card.html").read_bytes(), (job / "card.pdf").read_bytes()))
    assert pages[0] == pages[1]
    self_contained(pages[0][0].decode())
    assert len(pages[0][0]) <= 40_000


@pytest.mark.parametrize("paper", PAPERS)
def test_three_boxes_take_the_front_and_the_cautions_the_back(job, paper):
    front, back = read_sheets(to_pdf(card(job, paper)))
    assert front.of("H2") == ["chaffy  tall mix", "grain  CW-26", "small  forb mix"]
    assert front.of("P")[0].startswith("1 of 3 boxes not ready (black).")
    assert back.of("H2")[0] == "Cautions"
    assert any("Jack up the drill" in each for each in back.of("LBody"))
    assert any("Catches to" in each for each in front.of("P"))
    assert any("Taken as given" in each for each in back.of("P"))


@pytest.mark.parametrize("paper", PAPERS)
def test_letters_can_be_read_at_arms_length_and_grow_with_the_paper(job, paper):
    """Heights of capitals and figures, by the boxes that pdfium gives of them."""
    page = card(job, paper)
    every = list(letters(to_pdf(page)))
    heights = [each for _, _, each in every]
    assert min(heights) >= 2.5
    settings = [each for sheet, _, each in every if sheet == 0 and each > 9.5]
    assert len(settings) == len("4") + len("17") + len("14")
    grow = page.points / 10.6
    assert min(settings) >= 11 * grow
    assert max(settings) <= 15 * grow + 0.1
    weight_letters = [each for sheet, _, each in every if sheet == 0 and 4.5 * grow < each < 9]
    assert 5 * grow <= min(weight_letters) <= max(weight_letters) <= 6 * grow


@pytest.mark.slow
def test_more_boxes_take_more_sheets_and_no_smaller_letters(tmp_path):
    names = [f"box {k} of the rear row" for k in range(8)]
    folder = made(tmp_path / "job", *(box(each, "Made-up bottom mix, second bag") for each in names))
    page = card(folder)
    data = to_pdf(page)
    sheets = read_sheets(data)
    assert [each.partition(" Made-up")[0] for sheet in sheets for each in sheet.of("H2")][:8] == names
    assert min(height for _, _, height in letters(data)) >= 2.5
    assert "All 8 boxes are ready." in sheets[0].of("P")[0]


@pytest.mark.parametrize(
    ("value", "beside"),
    [("4", True), ("33", True), ("14.5", True), ("114.25", True), ("15T/36T", False), ("18 on 30, short chain", False)],
)
def test_a_setting_fits_beside_the_rest_or_goes_above_it(value, beside):
    panel = Panel("grain", "A", "SET", value, "", "", "CATCH AGAIN", ",", "NOT READY", "23.7 g", ("Why.",))
    page = Page("Settings", (panel,), "half-letter", points=10.6)
    assert (panels.layout(panel).column > 0) == beside
    (sheet,) = read_sheets(to_pdf(page))
    for piece in sheet.pieces:
        assert piece.left >= 9 / MM_PER_POINT
        assert piece.right <= sheet.wide - 9 / MM_PER_POINT
    shown = [piece for piece in sheet.pieces if piece.text.strip() and piece.text.strip() in value]
    assert " ".join(piece.text.strip() for piece in shown) == value
    if beside or value == "15T/36T":
        heights = [height for _, letter, height in letters(to_pdf(page)) if height > 7]
        assert 11 <= min(heights) <= max(heights) <= 15


def test_what_is_black_is_told_by_a_word_and_a_thick_border_too():
    page = to_html(Page("t", (Panel("a", "", "SET", "4", "", "", "", "", "NOT READY", "", ()),)))
    style = page[page.index("<style>") : page.index("</style>")]
    assert "print-color-adjust:exact" in style
    assert ".p.d{border-width:.3em}" in style
    assert "<p>NOT READY</p>" in page


@pytest.mark.browser
@pytest.mark.parametrize("kept", [True, False], ids=["black", "ground dropped"])
def test_an_unready_setting_is_read_on_paper_whatever_the_browser_does_with_its_ground(browser, sample, tmp_path, kept):
    """Printed without grounds; and as by a browser that drops even the one that is asked for: outlines are left."""
    path, text = tmp_path / "card.html", to_html(sample)
    path.write_text(text if kept else text.replace("print-color-adjust:exact", ""), encoding="utf-8")
    data = browser.print(path)
    document = pypdfium2.PdfDocument(data)
    page, scale = document[0], 4
    picture = page.render(scale=scale, grayscale=True).to_numpy().squeeze()
    read = page.get_textpage()
    boxes = [[scale * each for each in read.get_charbox(k)] for k in range(read.count_chars())]
    settings = [(left, low, right, high) for left, low, right, high in boxes if high - low >= scale * 11 / MM_PER_POINT]
    assert len(settings) == len("4") + len("17") + len("14")
    for left, low, right, high in settings[-2:]:
        tall = picture.shape[0]
        dark = picture[int(tall - high) - 3 : int(tall - low) + 3, int(left) - 3 : int(right) + 3] < 128
        assert 0.03 <= dark.mean() <= 0.9
        assert bool(dark[0, 0]) == kept
    assert "page 1 of 2" in read.get_text_range()
    assert len(document) == 2
    document.close()
