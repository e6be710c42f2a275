"""Writing of single files, and of the files of a new job."""

import pytest

from predictor.commands.output import begin_job, write
from predictor.errors import InputError
from predictor.pages.table import header


def test_a_link_to_another_kind_of_file_is_not_followed(job):
    (job / "notes.txt").write_text("mine")
    (job / "page.html").symlink_to(job / "notes.txt")
    with pytest.raises(InputError):
        write(job / "page.html", b"x", [])
    assert (job / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize(
    "before", [None, b"", f"{','.join(header('us'))}\n1,2\n".encode()], ids=["none", "empty", "own"]
)
def test_a_table_of_settings_is_replaced(tmp_path, before):
    path = tmp_path / "settings.csv"
    if before is not None:
        path.write_bytes(before)
    write(path, b"new", [])
    assert path.read_bytes() == b"new"


@pytest.mark.parametrize("before", [b"a,b\n1,2\n", b"\xff\xfe\x00"], ids=["other", "binary"])
def test_a_table_of_another_kind_is_kept(tmp_path, before):
    path = tmp_path / "settings.csv"
    path.write_bytes(before)
    with pytest.raises(InputError):
        write(path, b"new", [])
    assert path.read_bytes() == before


def test_a_job_is_begun_whole_or_not_at_all(tmp_path):
    begin_job(tmp_path / "new" / "job", {"drill.toml": b"1", "plan.csv": b"2"})
    assert (tmp_path / "new" / "job" / "plan.csv").read_bytes() == b"2"
    (tmp_path / "plan.csv").write_bytes(b"mine")
    with pytest.raises(InputError) as caught:
        begin_job(tmp_path, {"drill.toml": b"1", "plan.csv": b"2"})
    assert caught.value.problems[0].file == str(tmp_path)
    assert not (tmp_path / "drill.toml").exists()
    assert (tmp_path / "plan.csv").read_bytes() == b"mine"
