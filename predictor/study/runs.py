"""Many runs of one function, on one or several processes."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar

Done = TypeVar("Done")


def each_run(
    function: Callable[[int], Done], runs: Iterable[int], processes: int = 1, tick: Callable[[], None] = lambda: None
) -> Iterator[Done]:
    """What a function gives for each number of a run, in order; on several processes it must be picklable."""
    if processes == 1:
        for run in runs:
            yield function(run)
            tick()
        return
    with ProcessPoolExecutor(processes) as pool:
        for found in pool.map(function, runs, chunksize=8):
            yield found
            tick()
