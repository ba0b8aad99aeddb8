"""Writing whole or not at all: files and folders are made under another name and then put in place.

Knows nothing of what is written.
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from survey.errors import SurveyError


def usual_folder(venue_folder: Path) -> Path:
    """Where the files of a venue go by default: beside its folder."""
    home = venue_folder.resolve()
    return home.with_name(f"{home.name}-out")


def checked_folder(venue_folder: Path, out: Path | None) -> Path:
    """The output folder, refused where it would mix with the sources.

    Raises
    ------
    SurveyError
        ``out`` is the venue folder, in it, or around it.
    """
    home = venue_folder.resolve()
    target = usual_folder(home) if out is None else out.resolve()
    if target == home or home in target.parents or target in home.parents:
        raise SurveyError(
            f'--out "{out}" and the venue folder are one inside the other. Results must stay apart from sources: '
            f'name another folder, for example "{usual_folder(home)}".'
        )
    return target


PART, OLD = "part", "old"


@contextmanager
def whole_folder(target: Path, ours: Callable[[Path], frozenset[str] | None]) -> Iterator[Path]:
    """A folder to write into, which takes the place of ``target`` when the block ends well.

    If the block raises, ``target`` stays as it was. What is in an old ``target`` beside our own
    files is carried over. Of two writers of one target the later start wins, the other is refused.

    Parameters
    ----------
    target : Path
        Need not exist.
    ours : callable
        Names of the files in an old folder that may be replaced; None: the folder is not ours.

    Yields
    ------
    Path
        An empty folder beside ``target``.

    Raises
    ------
    SurveyError
        ``target`` is a file, a folder with things in it that is not ours, or one to be replaced
        while somebody stands in it; or a file there was not written by us but has our name.
    """
    _recover(target)
    kept = _foreign(target, ours)
    target.parent.mkdir(parents=True, exist_ok=True)
    part = _beside(target, PART)
    part.mkdir()
    try:
        yield part
        _carry_over(target, kept, part)
        _settle(part)
        _swap(part, target)
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise


def _beside(target: Path, what: str) -> Path:
    return target.with_name(f".{target.name}.{what}-{secrets.token_hex(4)}")


def _left_over(target: Path, what: str) -> list[Path]:
    if not target.parent.is_dir():
        return []
    return sorted(path for path in target.parent.iterdir() if path.name.startswith(f".{target.name}.{what}-"))


def _recover(target: Path) -> None:
    """Put back or clear away what a run that was killed has left."""
    for old in _left_over(target, OLD):
        if target.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.replace(target)
    for part in _left_over(target, PART):
        shutil.rmtree(part, ignore_errors=True)


def _foreign(target: Path, ours: Callable[[Path], frozenset[str] | None]) -> tuple[str, ...]:
    """Names in an old target that are not ours and are to be kept."""
    if not target.exists():
        return ()
    if not target.is_dir():
        raise SurveyError(f'"{target}" is a file. Name a folder, or a new one.')
    names = {entry.name for entry in target.iterdir()}
    if not names:
        return ()
    replaceable = ours(target)
    if replaceable is None:
        raise SurveyError(f'"{target}" holds other files, so it was left alone. Name an empty folder or a new one.')
    here = Path.cwd()
    if target == here or target in here.parents:
        raise SurveyError(f'"{target}" must be replaced, but you are in it. Leave it first: cd ..')
    return tuple(sorted(names - replaceable))


def _carry_over(target: Path, names: tuple[str, ...], part: Path) -> None:
    clashes = [name for name in names if (part / name).exists()]
    if clashes:
        raise SurveyError(
            f'"{target}" holds {", ".join(clashes)}, not written by an earlier build. '
            "Move it away, or name another folder."
        )
    for name in names:
        source = target / name
        if source.is_dir() and not source.is_symlink():
            shutil.copytree(source, part / name, symlinks=True)
        else:
            shutil.copy2(source, part / name, follow_symlinks=False)


def _settle(folder: Path) -> None:
    """Have every file on the disk before its folder gets its name."""
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            with path.open("rb+") as handle:
                os.fsync(handle.fileno())


def _swap(part: Path, target: Path) -> None:
    if not target.exists():
        part.replace(target)
        return
    if not any(target.iterdir()):
        _fill(target, part)
        return
    aside = _beside(target, OLD)
    target.replace(aside)
    try:
        part.replace(target)
    except OSError:
        aside.replace(target)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _fill(target: Path, part: Path) -> None:
    """Move everything into an empty folder that may be somebody's current one, and so must stay itself."""
    moved: list[Path] = []
    try:
        for entry in sorted(part.iterdir()):
            moved.append(entry.replace(target / entry.name))  # noqa: PERF401 - kept as it goes, for the way back
    except BaseException:
        for path in moved:
            path.replace(part / path.name)
        raise
    part.rmdir()
