"""Work on many trees shared out over a Dask cluster.

Each task is complete in itself, with its own share of the study's random numbers, so that the
answers are the same on any number of workers, in any order, and when a worker is lost and its
tasks are done again elsewhere.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

from bonewright.errors import BonewrightError
from bonewright.relatives.in_trees import Spread

__all__ = ["on_cluster"]

Task = TypeVar("Task")
Answer = TypeVar("Answer")

_TASKS_AT_ONCE = 4
_SECONDS_TO_ANSWER = 20
_TRIES = 5


def _several(function: Callable[[Task], Answer], tasks: Sequence[Task]) -> list[Answer]:
    return [function(task) for task in tasks]


@contextmanager
def on_cluster(address: str) -> Iterator[Spread]:
    """Yield a way to compute tasks on the workers of a cluster.

    Parameters
    ----------
    address : str
        The scheduler's, such as ``tcp://192.168.0.7:8786``. Workers need the same version of
        this program.

    Raises
    ------
    BonewrightError
        If Dask is not installed or no scheduler answers at the address.
    """
    try:
        from distributed import Client
    except ImportError as missing:
        raise BonewrightError(
            "Working on a cluster needs Dask, which is not installed.",
            remedy="Install it with: pip install bonewright[cluster]",
        ) from missing
    try:
        client = Client(address, timeout=_SECONDS_TO_ANSWER)
    except (OSError, ValueError) as silent:
        raise BonewrightError(
            f"No Dask scheduler answers at {address}.",
            remedy="Start one with: dask scheduler; then give the address it prints.",
        ) from silent

    def spread(function: Callable[[Task], Answer], tasks: Sequence[Task]) -> list[Answer]:
        parts = [tasks[at : at + _TASKS_AT_ONCE] for at in range(0, len(tasks), _TASKS_AT_ONCE)]
        futures = client.map(_several, [function] * len(parts), parts, pure=False, retries=_TRIES)
        return [answer for part in client.gather(futures) for answer in part]

    try:
        yield spread
    finally:
        client.close()
