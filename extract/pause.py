"""Pause: the garbage collector kept away while very many objects are made."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["paused_collector"]


@contextmanager
def paused_collector() -> Iterator[None]:
    """Keep the garbage collector from scanning a growing drawing over and over; what was on is on again after."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
