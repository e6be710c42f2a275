"""What is kept of devices, and how keys are used up."""

import json
import os
import shutil
import stat
from concurrent.futures import ThreadPoolExecutor
from unittest import mock

import pytest

from predictor.errors import InputError
from predictor.serving.keys import FILE, MOST_DEVICES, MOST_SENDERS, MOST_WRONG, WAIT_S, Devices, Keys

PLACES = ("http://127.0.0.1:8421", "http://192.168.7.1:8421")


@pytest.fixture
def folder(tmp_path):
    """A folder of a job, as far as this matters here."""
    (tmp_path / "job").mkdir()
    return tmp_path / "job"


def key_of(keys, place):
    return keys.address(place).rpartition("/")[2]


def test_a_device_is_known_by_its_token_alone(folder):
    devices = Devices(folder)
    first, second = devices.let_in(), devices.let_in()
    assert first != second
    assert devices.knows(first)
    assert devices.knows(second)
    kept = json.loads((folder / FILE).read_bytes())["devices"]
    for wrong in ("", first[:-1], first + "x", first.swapcase(), *kept, "\ud800", "é"):
        assert not devices.knows(wrong), wrong


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_nobody_else_can_read_what_is_kept(folder):
    old = os.umask(0)
    try:
        devices = Devices(folder)
        assert stat.S_IMODE((folder / FILE).stat().st_mode) == 0o600
        devices.let_in()
    finally:
        os.umask(old)
    assert stat.S_IMODE((folder / FILE).stat().st_mode) == 0o600
    assert [each.name for each in folder.iterdir()] == [FILE]


def test_a_job_keeps_its_id_and_a_copy_has_another(folder):
    devices = Devices(folder)
    token, mine = devices.let_in(), devices.job
    assert Devices(folder).job == mine
    shutil.copytree(folder, folder.with_name("copy"))
    copy = Devices(folder.with_name("copy"))
    assert copy.job != mine
    assert not copy.knows(token)
    assert Devices(folder.with_name("copy")).job == copy.job, "it is not made again each time"
    assert Devices(folder).knows(token)
    moved = folder.rename(folder.with_name("moved"))
    assert (Devices(moved).job, Devices(moved).knows(token)) == (mine, True)


def test_a_link_to_a_job_is_no_copy(folder):
    devices = Devices(folder)
    folder.with_name("link").symlink_to(folder)
    assert Devices(folder.with_name("link")).job == devices.job


def test_a_log_with_a_name_of_its_own_has_an_id_of_its_own(folder):
    devices = Devices(folder)
    found = [devices.job_of(folder / name) for name in ("trials.csv", "spring.csv", "autumn.csv")]
    assert found[0] == devices.job
    assert len(set(found)) == 3
    assert {len(each) for each in found} == {32}


BROKEN = (
    *(b"", b"{", b"[]", b"\0" * 99, b'{"job": 7, "devices": []}', b'{"job": "ab"}', b"[" * 100_000),
    b'{"job": " %b ", "devices": []}' % (b"a" * 32),
)


@pytest.mark.parametrize("content", BROKEN, ids=lambda each: repr(each[:30]))
def test_a_file_that_cannot_be_read_is_begun_again(folder, content):
    (folder / FILE).write_bytes(content)
    devices = Devices(folder)
    assert devices.knows(devices.let_in())
    assert len(devices.job) == 32


def test_a_first_folder_that_is_no_name_of_one_is_nobodys(folder):
    (folder / FILE).write_text(json.dumps({"job": "a" * 32, "devices": [], "folder": "/" + "x" * 5000}))
    assert Devices(folder).job == "a" * 32


def test_two_runs_that_begin_at_once_have_one_id(folder):
    first = Devices(folder)
    token = first.let_in()
    with mock.patch("predictor.serving.keys._content", return_value=None):  # it looked before the first one began
        second = Devices(folder)
    assert second.job == first.job
    assert second.knows(token)


def test_two_runs_let_devices_in_at_once_and_know_them_all(folder):
    runs = [Devices(folder) for _ in range(2)]
    with ThreadPoolExecutor() as pool:
        tokens = list(pool.map(lambda k: runs[k % 2].let_in(), range(20)))
    assert all(map(runs[0].knows, tokens))


def test_no_other_file_is_written_over_through_a_link(folder):
    other = folder / "trials.csv"
    other.write_text("kept")
    (folder / FILE).symlink_to(other)
    with pytest.raises(InputError, match="Delete the link"):
        Devices(folder)
    assert other.read_text() == "kept"


def test_a_file_that_is_deleted_meanwhile_lets_nobody_in_and_is_made_again(folder):
    devices = Devices(folder)
    token, mine = devices.let_in(), devices.job
    (folder / FILE).unlink()
    assert not devices.knows(token)
    assert devices.knows(devices.let_in())
    assert Devices(folder).job == mine


def test_a_folder_that_is_gone_says_nothing_of_its_devices(folder):
    devices = Devices(folder)
    token = devices.let_in()
    moved = folder.rename(folder.with_name("moved"))
    with pytest.raises(FileNotFoundError):
        devices.knows(token)
    moved.rename(folder)
    assert devices.knows(token)


def test_the_first_device_is_forgotten_for_one_too_many(folder):
    devices = Devices(folder)
    tokens = [devices.let_in() for _ in range(MOST_DEVICES + 1)]
    assert [devices.knows(each) for each in tokens] == [False] + [True] * MOST_DEVICES
    assert devices.forget() == MOST_DEVICES
    assert not any(map(devices.knows, tokens))


def test_a_key_lets_one_device_in_at_its_place(folder):
    keys = Keys(PLACES)
    first = [key_of(keys, each) for each in PLACES]
    assert len(set(first)) == 2
    assert all(len(each) == 22 for each in first), "128 bits"
    assert keys.use(first[1], "a") == PLACES[1]
    assert keys.use(first[1], "a") is None
    assert key_of(keys, PLACES[0]) == first[0], "the other key is still good"
    assert keys.use(key_of(keys, PLACES[1]), "a") == PLACES[1]


def test_wrong_keys_make_an_address_wait_by_the_monotonic_clock():
    now = [1000.0]
    keys = Keys(PLACES, lambda: now[0])
    for k in range(MOST_WRONG):
        assert keys.waits("a") == 0, k
        assert keys.use("wrong", "a") is None
    assert keys.waits("a") == pytest.approx(WAIT_S)
    assert keys.waits("b") == 0
    now[0] += WAIT_S - 1
    assert keys.waits("a") == pytest.approx(1)
    now[0] += 1
    assert keys.waits("a") == 0
    for _ in range(MOST_WRONG):
        assert keys.waits("a") == 0
        keys.use("wrong", "a")
    assert keys.waits("a") == pytest.approx(WAIT_S)


def test_a_right_key_ends_the_count_of_wrong_ones():
    keys = Keys(PLACES, lambda: 0.0)
    for _ in range(MOST_WRONG - 1):
        keys.use("wrong", "a")
    assert keys.use(key_of(keys, PLACES[0]), "a") is not None
    keys.use("wrong", "a")
    assert keys.waits("a") == 0


def test_many_senders_of_wrong_keys_fill_no_memory():
    keys = Keys(PLACES, lambda: 0.0)
    for k in range(3 * MOST_SENDERS):
        keys.use("wrong", f"10.0.{k // 256}.{k % 256}")
    assert len(keys._wrong) == MOST_SENDERS


@pytest.mark.parametrize("wrong", ["", "\ud800", "é" * 22, "a" * 10_000, "\0"])
def test_a_key_of_odd_letters_is_only_wrong(wrong):
    assert Keys(PLACES).use(wrong, "a") is None
