"""Work beyond one machine: the same work on a Dask cluster's workers.

A function of (what is common, number) is called for many numbers. Here they run on this machine's
threads; with a scheduler's address, on its workers. What is common is sent to every worker once. A
worker that dies loses nothing: what it was at is done again by another, and every number gives the
same result wherever it is worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from futtock.errors import Unavailable, Unreadable

if TYPE_CHECKING:
    from futtock.layout.drawn import Run

CHUNKS_A_WORKER = 8
AGAIN = 5
_SECONDS = 10


@contextmanager
def runner(address: str | None) -> Iterator[Run]:
    """What calls the function for every number: here, or on the cluster at an address.

    Raises
    ------
    Unreadable
        Where the scheduler cannot be reached.
    Unavailable
        Where the extra ``cluster`` is not installed.
    """
    from futtock.layout.drawn import run_here

    if address is None:
        yield run_here
        return
    client = _client(address)
    try:
        yield lambda function, common, numbers: on_cluster(client, function, common, numbers)
    finally:
        client.close()


def _client(address: str) -> Any:
    try:
        import distributed
    except ImportError:
        raise Unavailable(
            "A cluster was asked for, but the extra 'cluster' is not installed: "
            "pip install 'futtock[cluster]'."
        ) from None
    try:
        make: Any = distributed.Client
        client = make(address, timeout=_SECONDS, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise Unreadable(f"The scheduler at {address} cannot be reached: {error}.") from None
    if not client.scheduler_info(n_workers=-1)["workers"]:
        client.close()
        raise Unreadable(f"The scheduler at {address} has no workers.")
    return client


def chunk(function: Callable[[Any, int], Any], common: Any, numbers: Sequence[int]) -> list[Any]:
    """What a worker does: a few numbers, one after another."""
    return [function(common, n) for n in numbers]


def on_cluster(
    client: Any, function: Callable[[Any, int], Any], common: Any, numbers: Sequence[int]
) -> Iterable[Any]:
    """Results in order; chunks whose worker was lost are sent again, ``AGAIN`` times at most."""
    from concurrent.futures import CancelledError

    from distributed import KilledWorker
    from distributed.comm.core import CommClosedError

    lost = (KilledWorker, CancelledError, CommClosedError)
    numbers = list(numbers)
    if not numbers:
        return
    workers = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
    size = max(1, -(-len(numbers) // (CHUNKS_A_WORKER * workers)))
    parts = [numbers[k : k + size] for k in range(0, len(numbers), size)]
    sent = client.scatter(common, broadcast=True, hash=False)

    def send(part: Sequence[int]) -> Any:
        return client.submit(chunk, function, sent, part, pure=False, retries=AGAIN)

    futures = [send(part) for part in parts]
    for k in range(len(parts)):
        for turn in range(AGAIN + 1):
            try:
                yield from futures[k].result()
                break
            except lost as error:
                if turn == AGAIN or not client.scheduler_info(n_workers=-1)["workers"]:
                    said = "No worker of the cluster is left to work on."
                    raise Unreadable(said) from error
                # what is common may have died with the last worker that held it
                sent = client.scatter(common, broadcast=True, hash=False)
                futures[k:] = [
                    f if f.status == "finished" and f is not futures[k] else send(p)
                    for f, p in zip(futures[k:], parts[k:], strict=True)
                ]
