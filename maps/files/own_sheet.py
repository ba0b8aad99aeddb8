"""Writing a sheet of the club's own: whole or not at all, and with the version before kept beside it.

Knows nothing of what is in it.
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from survey.errors import SurveyError


def replaced_sheet(path: Path, old: bytes, new: bytes) -> Path:
    """Put a new version of a sheet in place of the one that was read.

    Parameters
    ----------
    path : Path
    old, new : bytes

    Returns
    -------
    Path
        Where the version before is kept.

    Raises
    ------
    SurveyError
        The sheet has changed since it was read.
    """
    if path.read_bytes() != old:
        raise SurveyError(f"{path} was changed meanwhile, so it was left alone. Try again.")
    before = path.with_name(f"{path.name}.before")
    _written(before, old)
    _written(path, new)
    return before


def _written(path: Path, data: bytes) -> None:
    part = path.with_name(f".{path.name}.part-{secrets.token_hex(4)}")
    try:
        with part.open("wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
