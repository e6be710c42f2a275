"""What a command writes over: nothing, or a file of its own kind that this program wrote. Nothing else, ever."""

import os
import stat

import pytest

from predictor import InputError
from predictor.commands.output import begin_job, write
from predictor.commands.written import check_place
from predictor.pages.blocks import Page
from predictor.pages.html import to_html
from predictor.pages.pdf import to_pdf
from predictor.pages.table import header
from predictor.plots.style import new_figure, render

# The header of the table of version 1.0, as that version wrote it.
FIRST_TABLE = (
    "box,blend,lot,species,purity_pct,germination_pct,dormant_pct,test_date,pls_pct,setting,decision,chance,"
    "field_factor,target_catch_g,expected_catch_g,planned_pls_{0},planned_bulk_{0},expected_bulk_{0},expected_pls_{0}\n"
)


def own(ending):
    """A file of this ending as the program writes it."""
    if ending == ".html":
        return to_html(Page("A page", ())).encode()
    if ending == ".pdf":
        return to_pdf(Page("Seite für Лот", ()))
    if ending == ".csv":
        return (",".join(header("us")) + "\nsmall\n").encode()
    return render(new_figure(2, 1), ending[1:])


def refused(path, read=()):
    with pytest.raises(InputError) as found:
        check_place(path, read)
    return str(found.value)


ENDINGS = (".html", ".pdf", ".csv", ".png", ".svg")


@pytest.mark.parametrize("ending", ENDINGS)
def test_what_the_program_wrote_may_be_written_again_and_nothing_else(tmp_path, ending):
    path, data = tmp_path / f"file{ending}", own(ending)
    check_place(path)
    path.write_bytes(data)
    check_place(path)
    path.write_bytes(b"")
    check_place(path)
    others = [own(each) for each in ENDINGS if each != ending]
    for other in (
        *others,
        data[1:],
        b"x" + data,
        data.decode("latin-1").encode("utf-16"),
        b"\xff\xfe" + data,
        "Käse,Größe\n".encode("cp1252"),
        b"box,lot,setting,catch_g\nsmall,A,14,60.5\n",
        b"\x00",
        b" ",
        b"<!DOCTYPE html>\n<html></html>",
        b"%PDF-1.4\n/Producer (another)",
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
        b'<svg xmlns="http://www.w3.org/2000/svg"></svg>',
    ):
        path.write_bytes(other)
        assert refused(path).endswith("did not write. Choose another name for the new file.")
        assert path.read_bytes() == other


def test_a_table_with_another_header_is_not_ours_and_one_of_the_first_version_is(tmp_path):
    path = tmp_path / "settings.csv"
    for units in ("us", "metric"):
        line = ",".join(header(units))
        for more in ("", "\n", "\r\n", "\nsmall,x\n"):
            path.write_text(line + more, newline="")
            check_place(path)
        for other in (f"{line},my notes\n", line.replace("box,", "box,area,"), f"{line}x\n", line[:-1] + "\n"):
            path.write_text(other, newline="")
            assert "did not write" in refused(path)
    for unit in ("lb_ac", "kg_ha"):
        path.write_text(FIRST_TABLE.format(unit))
        check_place(path)


def test_what_is_no_ordinary_file_is_left_alone(tmp_path):
    (tmp_path / "folder.csv").mkdir()
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "nowhere.csv").symlink_to(tmp_path / "none.csv")
    (tmp_path / "round.csv").symlink_to("round.csv")
    (tmp_path / "zero.csv").symlink_to("/dev/zero")
    locked = tmp_path / "locked.csv"
    locked.write_bytes(own(".csv"))
    locked.chmod(0o444)
    assert "folder" in refused(tmp_path / "folder.csv")
    assert "ordinary" in refused(tmp_path / "pipe.csv")
    assert "link" in refused(tmp_path / "nowhere.csv")
    assert "Choose another name" in refused(tmp_path / "round.csv")
    assert "Choose another name" in refused(tmp_path / "zero.csv")
    assert "protected" in refused(locked)
    locked.chmod(0o000)
    assert "Choose another name" in refused(locked)
    assert not (tmp_path / "none.csv").exists()


def test_no_input_is_written_over_under_any_of_its_names(tmp_path, monkeypatch):
    """Each input is one that the program would otherwise know as its own."""
    monkeypatch.chdir(tmp_path)
    source = tmp_path / "input.csv"
    source.write_bytes(own(".csv"))
    (tmp_path / "sub").mkdir()
    (tmp_path / "soft.csv").symlink_to(source)
    os.link(source, tmp_path / "hard.csv")
    for name in ("input.csv", "./input.csv", "sub/../input.csv", "soft.csv", "hard.csv"):
        for read in (source, "input.csv", "sub/../input.csv"):
            with pytest.raises(InputError):
                write(tmp_path / name, b"new", [read, None, "-"])
            with pytest.raises(InputError):
                write(type(tmp_path)(name), b"new", [None, read])
    assert source.read_bytes() == own(".csv")


def test_a_job_is_begun_only_where_none_of_its_names_is_taken(tmp_path):
    for make in (
        lambda path: path.symlink_to(tmp_path / "elsewhere"),
        lambda path: path.mkdir(),
        lambda path: os.mkfifo(path),
        lambda path: path.write_bytes(b""),
    ):
        folder = tmp_path / f"job{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        make(folder / "plan.csv")
        with pytest.raises(InputError):
            begin_job(folder, {"drill.toml": b"a", "plan.csv": b"b"})
        assert not (folder / "drill.toml").exists()
    assert not (tmp_path / "elsewhere").exists()


@pytest.mark.parametrize(
    ("command", "option", "name"),
    [
        ("report", "--csv", "old.csv"),
        ("report", "--out", "old.html"),
        ("report", None, "reports/made-up-shed-drill.html"),
        ("card", "--pdf", "old.pdf"),
        ("card", None, "card.html"),
        ("card", None, "decision.html"),
        ("recommend", "--plot", "old.png"),
        ("compare", "--plot", "old.svg"),
        ("check", "--plot", "old.png"),
        ("load", "--out", "old.html"),
    ],
)
def test_no_command_writes_over_a_file_of_somebody_else(run, job, command, option, name):
    path = job / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes("Feld;Größe\n".encode("cp1252"))
    more = ["--area-ac", "14"] if command == "load" else ["--decision"] if name == "decision.html" else []
    done = run(command, job, *([option, path] if option else []), *more)
    assert done.returncode == 1
    assert f"{path}: There is a file here that this program did not write." in done.stderr
    assert path.read_bytes() == "Feld;Größe\n".encode("cp1252")


@pytest.mark.parametrize("mask", [0o022, 0o002, 0o077])
def test_new_files_have_the_mode_that_new_files_get(run, job, mask):
    before = os.umask(mask)
    try:
        for arguments in (
            ("card", job),
            ("card", job, "--pdf", job / "card.pdf"),
            ("report", job, "--csv", job / "settings.csv"),
            ("recommend", job, "--plot", job / "plot.png"),
        ):
            assert run(*arguments).returncode == 0
        run("init", job / "new")
    finally:
        os.umask(before)
    names = ("card.html", "card.pdf", "settings.csv", "plot.png", "new/drill.toml", "new/plan.csv")
    modes = {name: stat.S_IMODE((job / name).stat().st_mode) for name in names}
    assert modes == dict.fromkeys(names, 0o666 & ~mask)
    (job / "card.html").chmod(0o640)  # and one that is there keeps its own
    assert run("card", job).returncode == 0
    assert stat.S_IMODE((job / "card.html").stat().st_mode) == 0o640
