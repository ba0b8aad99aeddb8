"""The fieldbook: all that was read from a venue folder, as written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import MultiPolygon

from survey.errors import SourceRow
from survey.findings import Finding
from survey.records.readings import Reading
from survey.records.venue import Venue
from survey.units.dates import Moment


@dataclass(frozen=True, order=True)
class LevelRecord:
    """What the level mark showed, metres, and when."""

    when: Moment
    shown_m: float
    place: SourceRow


@dataclass(frozen=True)
class Edge:
    """The water's edge as walked or drawn on a day: a contour of the bed at the level of that day.

    Parameters
    ----------
    place : SourceRow
        File, and the number of the line in it.
    name : str
    when : Moment
    points : tuple of (float, float)
        Venue CRS, metres, in order.
    sd_m : float
        How far the line may lie off, across it (one standard deviation).
    """

    place: SourceRow
    name: str
    when: Moment
    points: tuple[tuple[float, float], ...]
    sd_m: float


@dataclass(frozen=True)
class Change:
    """Where the bed was changed: what was plumbed there before is past.

    Parameters
    ----------
    place : SourceRow
        Where that is written.
    new_from : str
        First day of the new bed, ISO.
    area : MultiPolygon or None
        Venue CRS; None: the whole water.
    note : str
    """

    place: SourceRow
    new_from: str
    area: MultiPolygon | None = None
    note: str = ""


@dataclass(frozen=True)
class Decision:
    """What somebody answered to a finding.

    Parameters
    ----------
    place : SourceRow
        Where the decision stands.
    code : str
        Of the finding; empty: whatever is said of that row.
    about : SourceRow
        Sheet and row where the reading stands now.
    answer : {"out", "keep", "noted"}
    by, note : str
    tag : str
        Of the reading.
    said : str
        What the reading says, as written.
    by_tag : bool
        The decision names its tag; False: it goes by row number.
    """

    place: SourceRow
    code: str
    about: SourceRow
    answer: Literal["out", "keep", "noted"]
    by: str = ""
    note: str = ""
    tag: str = ""
    said: str = ""
    by_tag: bool = False


@dataclass(frozen=True)
class Fieldbook:
    """Everything a venue folder holds, as written, with what was noticed while reading.

    Parameters
    ----------
    venue : Venue
    readings : tuple of Reading
    levels : tuple of LevelRecord
        Sorted by time.
    findings : tuple of Finding
        Rows that could not be used are among them with grade ``ERROR``.
    rows : int
        Source rows of the reading sheets that held anything.
    digest : str
        SHA-256 over the sources' names and bytes (hex), sorted by name.
    row_places : tuple of SourceRow
        Where those rows stand.
    edges : tuple of Edge
    decisions : tuple of Decision
    tags : mapping
        Of each row of the reading sheets, by file and row, the tag by which its reading is known.
    changes : tuple of Change
    """

    venue: Venue
    readings: tuple[Reading, ...]
    levels: tuple[LevelRecord, ...]
    findings: tuple[Finding, ...]
    rows: int
    digest: str
    row_places: tuple[SourceRow, ...] = ()
    edges: tuple[Edge, ...] = ()
    decisions: tuple[Decision, ...] = ()
    tags: Mapping[tuple[str, int | None], str] = field(default_factory=dict)
    changes: tuple[Change, ...] = ()
