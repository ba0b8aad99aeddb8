"""Which files of a venue folder are its sources, and their bytes, read once and only read.

Knows nothing of what the files say, apart from the names ``venue.toml`` gives under [files].
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from survey.errors import SourceRow
from survey.fieldbook.remarks import Remarks

VENUE_FILE = "venue.toml"
SHEET_ENDINGS = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".xls", ".ods")
OUTLINE_ENDINGS = (".geojson", ".json", ".kml", ".kmz", ".gpx", ".gpkg", ".zip")
ROLES = ("outline", "pegs", "readings", "levels", "edges", "decisions", "changes")
MANY = ("outline", "readings", "edges", "changes")
"""Roles that any number of files may have, all called ``readings...`` and so on."""
ENDINGS = {
    "outline": OUTLINE_ENDINGS,
    "pegs": (*SHEET_ENDINGS, ".gpx"),
    "readings": SHEET_ENDINGS,
    "levels": SHEET_ENDINGS,
    "edges": OUTLINE_ENDINGS,
    "changes": OUTLINE_ENDINGS,
    "decisions": SHEET_ENDINGS,
}
MAX_BYTES = 64 * 1024 * 1024


@dataclass(frozen=True)
class Source:
    """One file as it was: name relative to the venue folder, and bytes."""

    name: str
    data: bytes

    @property
    def ending(self) -> str:
        """File ending in lower case, with its dot."""
        return Path(self.name).suffix.casefold()


@dataclass(frozen=True)
class Sources:
    """The sources by role.

    Parameters
    ----------
    outlines, pegs, readings, levels, edges, decisions, changes : tuple of Source
        Files named for that role.
    books : tuple of Source
        Workbooks named for no role, which may hold sheets of that name.
    unclear : frozenset of str
        Roles of which a file could not be found, told from another or read; each has its fault.
    """

    venue: Source | None
    outlines: tuple[Source, ...]
    pegs: tuple[Source, ...]
    readings: tuple[Source, ...]
    levels: tuple[Source, ...]
    books: tuple[Source, ...]
    edges: tuple[Source, ...] = ()
    decisions: tuple[Source, ...] = ()
    changes: tuple[Source, ...] = ()
    unclear: frozenset[str] = frozenset()

    @property
    def all_files(self) -> tuple[Source, ...]:
        """Every source, each once."""
        sheets = (*self.pegs, *self.readings, *self.levels, *self.books, *self.edges, *self.decisions, *self.changes)
        return tuple({source.name: source for source in (self.venue, *self.outlines, *sheets) if source}.values())

    @property
    def digest(self) -> str:
        """SHA-256 (hex) over names and bytes of all sources, sorted by name."""
        found = {source.name: source for source in self.all_files}
        total = hashlib.sha256()
        for name in sorted(found):
            data = found[name].data
            total.update(f"{len(name.encode())}:{name}:{len(data)}:".encode())
            total.update(data)
        return total.hexdigest()


def find_sources(folder: Path, remarks: Remarks) -> Sources:
    """Find and read the sources of a venue.

    Parameters
    ----------
    folder : Path
    remarks : Remarks
        Told of missing, doubled, oversized and oddly named files; what else there is can still be read.

    Returns
    -------
    Sources

    Raises
    ------
    FieldbookError
        If there is no such folder.
    """
    venue = _venue_file(folder, remarks)
    named = _named_files(venue, folder, remarks)
    unclear = {role for role in ROLES if any(fault.place.column == f"[files] {role}" for fault in remarks.faults)}
    present = sorted(p for p in folder.iterdir() if p.is_file() and not p.name.startswith((".", "~")))
    chosen = {role: named.get(role) or _by_stem(role, present, remarks) for role in ROLES}
    taken = {path for paths in chosen.values() for path in paths}
    books = [p for p in present if p not in taken and p.suffix.casefold() in BOOK_ENDINGS]
    read = {path: _read(path, folder, remarks) for path in sorted({*taken, *books})}
    doubled = {role for role in ROLES if len(chosen[role]) > 1 and role not in (*MANY, *named)}
    unclear |= doubled | {role for role, paths in chosen.items() if any(read[path] is None for path in paths)}
    sources = {role: () if role in doubled else _kept(paths, read) for role, paths in chosen.items()}
    return Sources(
        venue,
        sources["outline"],
        sources["pegs"],
        sources["readings"],
        sources["levels"],
        _kept(books, read),
        sources["edges"],
        sources["decisions"],
        sources["changes"],
        frozenset(unclear),
    )


def _kept(paths: Iterable[Path], read: dict[Path, Source | None]) -> tuple[Source, ...]:
    return tuple(source for source in (read[path] for path in paths) if source is not None)


def _venue_file(folder: Path, remarks: Remarks) -> Source | None:
    if not folder.is_dir():
        remarks.refuse(
            SourceRow(folder.name or str(folder)), "there is no such folder", "Name the folder that holds venue.toml."
        )
    path = folder / VENUE_FILE
    if not path.is_file():
        remedy = 'Add it to the venue folder; one line is enough: name = "Your water".'
        remarks.fault(SourceRow(VENUE_FILE), "the file is missing", remedy)
        return None
    return _read(path, folder, remarks)


def _named_files(venue: Source | None, folder: Path, remarks: Remarks) -> dict[str, list[Path]]:
    """Paths that [files] gives; a broken venue.toml is reported by its own reader."""
    try:
        files = tomllib.loads(venue.data.decode("utf-8-sig") if venue else "").get("files", {})
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return {}
    named: dict[str, list[Path]] = {}
    for role in ROLES:
        given = files.get(role) if isinstance(files, dict) else None
        if given is not None:
            names = given if isinstance(given, list) else [given]
            paths = (_inside(folder, role, name, remarks) for name in dict.fromkeys(map(str, names)))
            named[role] = [path for path in paths if path]
    return named


def _inside(folder: Path, role: str, name: str, remarks: Remarks) -> Path | None:
    place = SourceRow(VENUE_FILE, column=f"[files] {role}")
    path = folder / name
    if not re.fullmatch(r"[^/\\:\0]+(?:/[^/\\:\0]+)*", name) or not path.resolve().is_relative_to(folder.resolve()):
        remarks.fault(place, "the name leads out of the venue folder", "Give a file name inside the folder.", name)
        return None
    if not path.is_file():
        remarks.fault(place, "there is no such file", "Correct the name, or delete the line.", name)
        return None
    return path


def _by_stem(role: str, present: list[Path], remarks: Remarks) -> list[Path]:
    """Files called after the role: one of them, or any number (``readings*``)."""
    endings = ENDINGS[role]
    alike = [p for p in present if p.stem.casefold() == role or (role in MANY and p.stem.casefold().startswith(role))]
    fit = [p for p in alike if p.suffix.casefold() in endings]
    for path in alike:
        if path not in fit:
            remarks.note(
                "file-not-read",
                SourceRow(path.name),
                f"this kind of file cannot be read as {role}",
                f"Supported: {' '.join(endings)}.",
            )
    if len(fit) > 1 and role not in MANY:
        names = ", ".join(p.name for p in fit)
        remarks.fault(
            SourceRow(fit[0].name),
            f"more than one file is called {role}: {names}",
            f'Keep one, or add to venue.toml: [files] {role} = "{fit[0].name}".',
        )
    return fit


def _read(path: Path, folder: Path, remarks: Remarks) -> Source | None:
    name = path.relative_to(folder).as_posix()
    try:
        size = path.stat().st_size
        if size <= MAX_BYTES:
            return Source(name, path.read_bytes())
    except OSError as trouble:
        remarks.fault(
            SourceRow(name),
            f"the file cannot be opened: {trouble.strerror}",
            "Close it in other programs, and check that you may read it.",
        )
        return None
    remarks.fault(
        SourceRow(name),
        f"the file has {size / 1e6:.0f} MB, more than the {MAX_BYTES / 1e6:.0f} MB that are read",
        "Split it, or remove pictures and other sheets.",
    )
    return None
