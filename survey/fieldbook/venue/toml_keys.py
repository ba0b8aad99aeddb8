"""One table of ``venue.toml`` or ``floats.toml``, read key by key, with faults that show what to write.

Knows nothing of which tables there are.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from datetime import date

from survey.errors import ParseError, SourceRow
from survey.fieldbook.files.sources import VENUE_FILE
from survey.fieldbook.remarks import Remarks, nearest
from survey.units import read_length


def parsed(data: bytes, file: str, remarks: Remarks) -> dict[str, object]:
    """The contents of a TOML file; empty, with a fault, where it is not TOML."""
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        remarks.fault(SourceRow(file), "the file is not UTF-8 text", "Save it as UTF-8 in a plain text editor.")
    except tomllib.TOMLDecodeError as trouble:
        remarks.fault(
            SourceRow(file),
            f"the file is not TOML ({trouble})",
            'Each line is key = value; texts stand in quotation marks "".',
        )
    return {}


class Keys:
    """Values of one table; every key requested is an allowed one.

    Parameters
    ----------
    table : object
        What TOML gave; a fault if it is no table.
    section : str
        Its name in brackets, empty for the top.
    remarks : Remarks
    file : str
        The file the table stands in.
    """

    def __init__(self, table: object, section: str, remarks: Remarks, file: str = VENUE_FILE) -> None:
        self.section = section
        self.remarks = remarks
        self.file = file
        self.allowed: list[str] = []
        self.values: Mapping[str, object] = table if isinstance(table, dict) else {}
        if not isinstance(table, dict):
            self._fault(
                "",
                f"[{section}] is not a section",
                f"Write [{section}] on a line of its own and its keys below.",
                table,
            )

    def _fault(self, key: str, problem: str, remedy: str, value: object = "") -> None:
        column = " ".join(part for part in (f"[{self.section}]" if self.section else "", key) if part)
        self.remarks.fault(SourceRow(self.file, column=column), problem, remedy, str(value))

    def has(self, key: str) -> bool:
        """Whether the key is given."""
        self.allowed.append(key)
        return key in self.values

    def text(self, key: str, default: str = "") -> str:
        """A text."""
        if not self.has(key):
            return default
        value = self.values[key]
        if isinstance(value, str):
            return value.strip()
        self._fault(key, "this is not a text", f'Write it in quotation marks: {key} = "{value}".', value)
        return default

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.values[key] if self.has(key) else []
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value)
        self._fault(key, "this is not a list of texts", f'Write {key} = ["first", "second"].', value)
        return ()

    def flag(self, key: str) -> bool:
        """True or false; false where it is not given."""
        value = self.values[key] if self.has(key) else False
        if isinstance(value, bool):
            return value
        self._fault(key, "this is neither true nor false", f"Write {key} = true, without quotation marks.", value)
        return False

    def choice(self, key: str, allowed: Sequence[str], default: str | None = None) -> str | None:
        """One of a closed set of words."""
        word = self.text(key).casefold()
        if not word or word in allowed:
            return word or default
        self._fault(
            key,
            f"the word is not one of {', '.join(allowed)}",
            f"Write one of them.{nearest(word, list(allowed))}",
            word,
        )
        return default

    def number(self, key: str, default: float) -> float:
        """A plain number."""
        value = self.values[key] if self.has(key) else default
        if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < float("inf"):
            return float(value)
        self._fault(
            key,
            "this is not a number",
            f"Write {key} = {default:g}, with your figure and without quotation marks.",
            value,
        )
        return default

    def length(self, key: str, unit: str | None = None) -> float | None:
        """A length in metres; a bare number other than zero needs ``unit``."""
        if not self.has(key):
            return None
        value = self.values[key]
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self._fault(key, "this is not a length", f'Write {key} = "{0.4:g} m".', value)
            return None
        is_bare = not isinstance(value, str) or re.fullmatch(r"[\d.,\s]+", value)
        like = f'Write it with its unit, like {key} = "{value} m".' if is_bare else f'Correct it, like {key} = "0.4 m".'
        return self.read(key, lambda text: read_length(text, unit).metres, like)

    def day(self, key: str) -> str:
        """A day, ISO, as text or as TOML has it; empty where it is not given."""
        value = self.values[key] if self.has(key) else ""
        try:
            return date.fromisoformat(str(value).strip()).isoformat() if value != "" else ""
        except ValueError:
            self._fault(key, "this is not a day", f'Write it with the year first: {key} = "2026-03-01".', value)
            return ""

    def read(self, key: str, reader: Callable[[str], float], remedy: str) -> float | None:
        """A value through a reader of texts, its complaint turned into a fault."""
        if not self.has(key):
            return None
        try:
            return reader(str(self.values[key]))
        except ParseError as trouble:
            self._fault(key, str(trouble), remedy)
            return None

    def wrong(self, key: str, problem: str, remedy: str) -> None:
        """A fault in the value of a key, found by the caller."""
        self._fault(key, problem, remedy, self.values.get(key, ""))

    def tell_unknown(self) -> None:
        """A fault for every unknown key."""
        allowed = list(dict.fromkeys(self.allowed))
        for key in self.values:
            if key not in allowed:
                where = f"[{self.section}]" if self.section else "the top of the file"
                self._fault(
                    key, "the key is not known", f"Allowed in {where} are {', '.join(allowed)}.{nearest(key, allowed)}"
                )
