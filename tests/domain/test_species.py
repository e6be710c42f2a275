"""The shipped table of seeds in a pound: its names, its counts against those of other sources, and slips of units."""

import csv
import math
import re
import statistics
from pathlib import Path

import pytest

from predictor.domain import species as species_table
from predictor.domain.species import find, is_chaffy, is_odd, kin_names, kinds, near_names, slip_of_unit

PUBLISHED = Path(__file__).parents[1] / "published" / "data"
SQUARE_FEET_PER_ACRE = 43_560


def rows_of(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def figures_of(cell):
    """The counts in a cell of the published table: its text holds other words, and numbers with four digits or more."""
    return [float(figure) for figure in re.findall(r"\b\d{4,}\b", cell)]


TABLE = rows_of(species_table._TABLE)
# 42 species of several sources, named in the head of the file.
CHECKS = rows_of(PUBLISHED / "seeds_per_pound_check.csv")
OTHERS = ("kew", "strips", "tpc", "mn", "mixd", "other", "suggested")
PUBLISHED_COUNTS = [
    (row["symbol"], source, figure) for row in CHECKS for source in OTHERS for figure in figures_of(row[source])
]
# Counts of the USDA table that stand several times off all others: the verdict of the same file says so.
USDA_FAR_OFF = {"TRVI", "HESP11", "SPHE", "COTI3", "PEDI"}


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['symbol']} {row['form']}".strip())
def test_every_row_is_found_by_all_its_names(row):
    others = [each for each in row["other_names"].split("; ") if each]
    for name in (row["common_name"], row["scientific_name"], row["symbol"], *others):
        assert row["symbol"] == find(name).symbol, name
        found = find(f"{name} {row['form']}")
        assert (found.symbol, found.form, found.seeds_per_lb) == (row["symbol"], row["form"], int(row["seeds_per_lb"]))


def test_no_name_is_of_two_species():
    owners = {}
    for row in TABLE:
        names = [row["common_name"], row["scientific_name"], " ".join(row["scientific_name"].split()[:2])]
        for name in [*names, row["symbol"], *filter(None, row["other_names"].split("; "))]:
            owners.setdefault(re.sub(r"\W|_", "", name.lower()), set()).add(row["symbol"])
    assert [name for name, symbols in owners.items() if len(symbols) > 1] == []


def test_every_row_names_its_sources_and_its_count_lies_between_theirs():
    head = [line for line in species_table._TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
    named = {line[1:].split()[0] for line in head if re.match(r"#   \w", line)}
    for row in TABLE:
        assert set(row["sources"].split()) <= named, row
        assert row["sources"], row
        assert bool(row["low"]) == bool(row["high"])
        if row["low"]:
            assert int(row["low"]) <= int(row["seeds_per_lb"]) <= int(row["high"]), row
        else:
            assert len(row["sources"].split()) == 1, row


@pytest.mark.parametrize(("symbol", "source", "count"), PUBLISHED_COUNTS)
def test_no_published_count_is_called_odd_nor_a_slip(symbol, source, count):
    assert not is_odd(kinds(symbol), count)
    assert slip_of_unit(kinds(symbol), count) == ""


@pytest.mark.parametrize("row", CHECKS, ids=lambda row: row["symbol"])
def test_the_usda_count_is_called_odd_where_it_is_far_off_all_others_and_only_there(row):
    meant, count = kinds(row["symbol"]), float(row["shipped"])
    assert (is_odd(meant, count) or slip_of_unit(meant, count) != "") == (row["symbol"] in USDA_FAR_OFF)


@pytest.mark.parametrize("row", CHECKS, ids=lambda row: row["symbol"])
def test_suggested_counts_lie_in_the_range_of_a_kind_of_the_seed(row):
    """Those are rounded to two or three digits, so that 1 % is allowed."""
    ranges = [each.range for each in kinds(row["symbol"])]
    for figure in figures_of(row["suggested"]):
        assert any(0.99 * low <= figure <= 1.01 * high for low, high in ranges), (figure, ranges)


def test_the_spread_of_one_source_is_that_of_the_usda_counts_about_the_others():
    """Robust standard deviation, 1.4826 times the median deviation, of species with two other counts and one unit."""
    logs = []
    for row in CHECKS:
        others = [figure for name in OTHERS[1:6] for figure in figures_of(row[name])]
        if len(others) > 1 and not row["verdict"].startswith("UNIT"):
            logs.append(math.log(float(row["shipped"]) / statistics.median(others)))
    assert len(logs) == 27
    robust = 1.4826 * statistics.median(map(abs, logs))
    assert robust == pytest.approx(species_table.ONE_SOURCE_SPREAD, abs=0.02)


def test_counts_of_the_mesic_mix_lie_in_the_ranges_of_the_table():
    """seeds/ft2 x 43560 / PLS lb/ac, within the last digit that the mix prints."""
    seen = 0
    for row in rows_of(PUBLISHED / "mix_mesic_short_prairie.csv"):
        rate, seeds = float(row["pls_lb_ac"]), float(row["seeds_ft2"])
        half = 0.5 * 10.0 ** -len(row["seeds_ft2"].partition(".")[2])
        least, most = ((seeds + each) * SQUARE_FEET_PER_ACRE / rate for each in (-half, half))
        low, high = find(row["species"]).range
        assert max(least, low) <= min(most, high), row
        seen += 1
    assert seen == 17


@pytest.mark.parametrize(
    ("name", "count", "unit"),
    [
        ("switchgrass", 259_000 / 16, "oz"),
        ("switchgrass", 259_000 / 453.59237, "g"),
        ("switchgrass", 259_000 * 2.20462, "kg"),
        ("prairie dropseed", 16_000, "oz"),
        ("switchgrass", 259_000, ""),
        ("switchgrass", 25_900, ""),  # a zero is missing: odd, but no unit
        ("buffalograss", 335_360, ""),  # naked grain
        ("golden tickseed", 3_222_222, "kg"),  # as the USDA table has it
    ],
)
def test_a_count_in_another_unit_is_named(name, count, unit):
    assert slip_of_unit(kinds(name), count) == unit


def test_the_kind_of_seed_is_chosen_by_name():
    assert [each.form for each in kinds("buffalograss")] == ["burs", "grain"]
    assert [each.name for each in kinds("Buffalograss (grain)")] == ["buffalograss grain"]
    assert find("BODA2").name == "buffalograss burs"
    assert find("purple prairie clover in pod").seeds_per_lb == 175_000
    assert find("purple prairie clover").form == "hulled"
    assert is_odd(kinds("buffalograss burs"), 335_360)
    assert not is_odd(kinds("buffalograss"), 335_360)


def test_how_sure_a_count_is():
    assert find("Canada wildrye").range == (83_200, 114_000)
    assert find("Canada wildrye").log_sd == pytest.approx(math.log(114_000 / 83_200) / 2)
    assert find("prairie dropseed").log_sd == species_table.LOT_SPREAD  # its sources agree, its lots do not
    assert find("blue vervain").log_sd == find("sand bluestem").log_sd == species_table.ONE_SOURCE_SPREAD
    assert (find("blue vervain").from_memory, find("sand bluestem").from_memory) == (True, False)
    assert [each.symbol for each in species_table._table() if each.doubtful] == [
        "ANGL2",
        "ASIN",
        "BATI",
        "SAAZG",
        "SPPE",
    ]


# Names that technicians use, and the row that each means.
USED = """gray-headed coneflower: RAPI; grayhead coneflower: RAPI; grey headed coneflower: RAPI
yellow coneflower: RAPI; ox-eye sunflower: HEHES; false sunflower: HEHES; side-oats grama: BOCU
little blue stem: SCSC; Indian grass: SONU2; Virginia wild rye: ELVI3; Canada wild rye: ELCA4
black-eyed Susan: RUHI2; showy tick trefoil: DECA7; Bluestem, Little: SCSC; rattlesnake master: ERYU
golden alexanders: ZIAU; compass plant: SILA3; New England aster: SYNO2; hoary vervain: VEST
common milkweed: ASSY; Aster novae-angliae: SYNO2; Solidago rigida: OLRIR; Sporobolus michauxianus: SPPE
Aster laevis: SYLAL3; Stipa spartea: HESP11; Andropogon scoparius: SCSC; Petalostemon purpureum: DAPUP
Buchloe dactyloides: BODA2; Cassia fasciculata: CHFA2; Agropyron smithii: PASM; plains coreopsis: COTI3
Mexican hat: RACO3; Culver's root: VEVI4; cup plant: SIPE2; blue vervain: VEHA2; wild quinine: PAIN3
sneezeweed: HEAU; oats: AVSA; winter wheat: TRAE; cereal rye: SECE; annual ryegrass: LOPEM2
Ohio spiderwort: TROH; prairie coreopsis: COPA10; round-headed bush clover: LECA8"""


@pytest.mark.parametrize("pair", re.split(r"; |\n", USED))
def test_names_that_people_use_are_found(pair):
    name, symbol = pair.split(": ")
    assert find(name).symbol == symbol


# Misspellings, and the row that must be offered first.
MISSPELLED = """gray-headed conflower: RAPI; yelow coneflower: RAPI; pinate prairie coneflower: RAPI
oxeye sunflowr: HEHES; sideoat grama: BOCU; litle bluestem: SCSC; Indian gras: SONU2; virgina wildrye: ELVI3
canda wild rye: ELCA4; showy tic trefoil: DECA7; swichgrass: PAVI2; switch gras: PAVI2; big blustem: ANGE
purple praire clover: DAPUP; white praire clover: DACAC; pale purpel coneflower: ECPA; purpel coneflower: ECPU
butterfly milkwed: ASTU; swamp milkwead: ASIN; comon milkweed: ASSY; ratlesnake master: ERYU
golden alexandars: ZIAU; compas plant: SILA3; new england astor: SYNO2; hoary vervane: VEST; culver root: VEVI4
stif goldenrod: OLRIR; prarie dropseed: SPHE; prairie cordgras: SPPE; Schizachirium scoparium: SCSC
Andropogon gerardi: ANGE; Solidago rigidum: OLRIR; buffalo gras: BODA2; blu grama: BOGR2
foxglove beardtounge: PEDI; cup plants: SIPE2; blue vervein: VEHA2; wild bergamont: MOFI; plains corepsis: COTI3
lance-leaved coriopsis: COLA5; Ohio spiderwart: TROH; brown-eyed susans: RUTR2; winter weat: TRAE"""


@pytest.mark.parametrize("pair", re.split(r"; |\n", MISSPELLED))
def test_the_right_plant_is_offered_first(pair):
    name, symbol = pair.split(": ")
    assert find(name) is None
    assert find(near_names(name)[0]).symbol == symbol


def test_near_names_are_those_of_the_same_kind():
    bluestems = {row["common_name"] for row in TABLE if row["common_name"].endswith("bluestem")}
    assert kin_names("tall bluestem")
    assert set(kin_names("tall bluestem")) <= bluestems
    assert kin_names("Liatris unknownii")
    for nothing in ("qqq", ""):
        assert near_names(nothing) == kin_names(nothing) == []


@pytest.mark.parametrize("name", [
    "showy milkweed", "blue wild indigo", "obedient plant", "prairie spiderwort", "red clover", "heath aster",
    "bluebunch wheatgrass", "tall bluestem",
])  # fmt: skip
def test_another_plant_is_not_offered_as_a_misspelling(name):
    """These are plants of their own, and the table has others with the same last word."""
    assert find(name) is None
    assert near_names(name) == []


@pytest.mark.parametrize(
    ("name", "chaffy"),
    [
        ("little bluestem", True),
        ("Canada wildrye", True),
        ("bottlebrush grass", True),
        ("Virginia wildrye", False),
        ("slender wheatgrass", False),
        ("prairie sandreed", True),
        ("prairie cordgrass", True),
        ("common milkweed", False),
        ("Asclepias viridis", False),
        ("buffalograss", False),
        ("buffalograss grain", False),
        ("sideoats grama", True),
        ("green needlegrass", False),
        ("green needlegrass with awns", True),
        ("Calamovilfa gigantea", True),
        ("Spartina gracilis", True),
    ],
)
def test_chaffy_seed_is_told_by_species_and_by_genus(name, chaffy):
    """Common practice."""
    assert is_chaffy(name) is chaffy
