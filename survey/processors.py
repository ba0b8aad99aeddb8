"""How many threads work at once: as many as there are processors, or as the setting says.

Results do not depend on it: what threads work out is put together in one order.
"""

from __future__ import annotations

import os

SETTING = "LAKEPLUMB_THREADS"
"""Environment variable: threads to use, 1 or more."""


def threads() -> int:
    """Threads that work at once.

    Examples
    --------
    >>> threads() >= 1
    True
    """
    said = os.environ.get(SETTING, "").strip()
    if said.isdecimal() and int(said) > 0:
        return int(said)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
