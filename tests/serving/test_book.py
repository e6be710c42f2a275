"""The job that is served is read as `record` reads it."""

import datetime

from predictor.job.at_drill import AtDrill
from predictor.job.place import Place, place_of
from predictor.job.read import read_whole
from predictor.serving.book import Book


def test_the_book_reads_the_same_files_as_record(job):
    """Beside the reader of the log, which keeps what it read."""
    book = Book(place_of(str(job)), history=("old.csv",), use_history=False)
    mine, its = book.sources(datetime.date(2026, 5, 1)), book.at.sources(datetime.date(2026, 5, 1))
    for name in ("folder", "drill", "trials", "plan", "checks", "earlier", "use_history", "today", "with_trials"):
        assert getattr(mine, name) == getattr(its, name), name
    assert (mine.trials, mine.earlier, mine.use_history) == (job / "trials.csv", ("old.csv",), False)
    assert mine.read_log.__self__ is book.kept


def test_what_was_read_of_the_log_is_kept(job):
    book = Book(place_of(str(job)))
    assert len(read_whole(book.sources()).trials) > 0
    assert book.kept.records_of((job / "trials.csv").read_bytes()) is not None


def test_a_log_without_a_row_is_none(job):
    header = b"box,lot,setting,turns,rows,catch_g\n"
    (job / "trials.csv").write_bytes(header)
    assert AtDrill(Place(job)).sources().trials is None
    (job / "trials.csv").unlink()
    assert AtDrill(Place(job)).sources().trials is None


def test_a_book_is_named_by_its_folder_and_by_a_log_with_a_name_of_its_own(job):
    (job / "spring.csv").write_bytes((job / "trials.csv").read_bytes())
    own, other = Book(place_of(str(job))), Book(place_of(str(job / "spring.csv")))
    assert (own.name, own.log) == (job.name, job / "trials.csv")
    assert (other.name, other.log) == (f"{job.name}/spring.csv", job / "spring.csv")
    assert own.checks == other.checks == job / "field.csv"
    assert own.planted == other.planted == job / "planted.csv"
