"""What a call costs: run in a child process, timed, its memory read from the system.

Native libraries allocate where Python's own counters do not look, so the peak is the child's resident memory.
"""

from __future__ import annotations

import multiprocessing as mp
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

KIB_PER_MB = 1024


@dataclass(frozen=True)
class Cost:
    """What a call gave and cost.

    Parameters
    ----------
    result : object
        None if it failed.
    seconds : float
        Without the start of the process and the loading of libraries.
    memory_mb : float
        Peak resident memory over what the process had when the call began; of a program it started, that one's peak.
    fault : str
        Empty if it succeeded.
    """

    result: Any
    seconds: float
    memory_mb: float
    fault: str = ""


def measured(call: Callable[[], Any], limit_s: float) -> Cost:
    """Call in a child process, which is ended after ``limit_s`` seconds."""
    context = mp.get_context("fork")
    here, there = context.Pipe(duplex=False)
    child = context.Process(target=_run, args=(call, there))
    child.start()
    there.close()
    try:
        if not here.poll(limit_s):
            return Cost(None, float("nan"), float("nan"), f"not done after {limit_s:.0f} s")
        return here.recv()
    except EOFError:
        return Cost(None, float("nan"), float("nan"), "ended by the system, most likely for want of memory")
    finally:
        child.kill()
        child.join()


def _run(call: Callable[[], Any], back: Connection) -> None:
    resident, begun = _resident_mb(), time.perf_counter()
    try:
        result, fault = call(), ""
    except Exception as error:
        result, fault = None, f"{type(error).__name__}: {error}"[:200]
    took = time.perf_counter() - begun
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_MB - resident
    started = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / KIB_PER_MB
    back.send(Cost(result, took, max(own, started), fault))


def _resident_mb() -> float:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return next(float(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")) / KIB_PER_MB
