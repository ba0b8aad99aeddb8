"""Python's search for rings of objects, put off while records are made by the hundred thousand.

Readings and soundings hold each other in no rings; to look for some among ever more of them took a third of the time.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_paused() -> Iterator[None]:
    """No search while this lasts; as it was before, afterwards."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
