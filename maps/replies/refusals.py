"""Why something cannot be done, in words, and the same for a program."""

from __future__ import annotations

from typing import Any

from survey.errors import FieldbookError, SourceRow, SurveyError

ALSO_SHOWN = 20


def counted(number: int, word: str) -> str:
    """A number with its word.

    Examples
    --------
    >>> counted(1, "row"), counted(0, "error")
    ('1 row', '0 errors')
    """
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def refusal_text(error: SurveyError | OSError) -> str:
    """Why something cannot be done: every fault on its line."""
    if isinstance(error, FieldbookError):
        also = ["", "Found besides:", *error.also[:ALSO_SHOWN]] if error.also else []
        also += [f"and {len(error.also) - ALSO_SHOWN} more."] if len(error.also) > ALSO_SHOWN else []
        return "\n".join([str(error), *also, "", f"Cannot be read: {counted(len(error.faults), 'fault')}."])
    if isinstance(error, SurveyError):
        return str(error)
    if error.filename is None:
        return f"{error}. Check that you may read and write those folders."
    return f"{error.filename}: {error.strerror}. Check that it exists and that you may read and write it."


def refusal_json(error: SurveyError | OSError) -> dict[str, Any]:
    """The same for a program."""
    faults, also = (error.faults, error.also) if isinstance(error, FieldbookError) else ((), ())
    return {
        "error": refusal_text(error),
        "faults": [
            {**place_json(fault.place), "value": fault.value, "problem": fault.problem, "remedy": fault.remedy}
            for fault in faults
        ],
        "also": list(also),
    }


def place_json(place: SourceRow) -> dict[str, Any]:
    """Where something stands, for a program."""
    return {"file": place.file, "row": place.row, "column": place.column}
