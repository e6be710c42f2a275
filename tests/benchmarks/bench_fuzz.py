"""The fuzzer of tests/files/test_fuzz_files.py with other seeds: `python -m tests.benchmarks.bench_fuzz --rounds 5`.

Each round makes about 12,000 files. 4,500 of them must be read to the values they hold. The others are corrupted and
must be read or refused in sentences. The first failure ends the run with the assertion of the test and the seed.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from tests.files import test_fuzz_files as fuzz


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--rounds", type=int, default=5)
    options.add_argument("--first", type=int, default=1)
    given = options.parse_args()
    began = time.perf_counter()
    for number in range(given.first, given.first + given.rounds):
        fuzz.SEED = 1000 * number
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            fuzz.test_generated_trials_are_read_to_the_values_they_hold(folder)
            fuzz.test_generated_field_checks_are_read_to_the_values_they_hold(folder)
            fuzz.test_generated_plans_are_read_to_the_values_they_hold(folder)
            for kind in fuzz.READERS:
                fuzz.test_a_sample_corrupted_at_every_byte_is_read_or_refused(folder, kind)
                fuzz.test_shuffled_pieces_of_files_are_read_or_refused(folder, kind)
            fuzz.test_no_catch_is_lost_where_one_is_added_to_a_corrupted_log(folder)
        print(f"round {number}: nothing misread, no traceback ({time.perf_counter() - began:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
