"""Where the bed was changed, and from which day it is new: polygons of the changes files, and ``[survey] since``.

Knows nothing of readings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from survey.errors import SourceRow
from survey.fieldbook.files.geojson import Ring
from survey.fieldbook.files.outlines import read_outline
from survey.fieldbook.files.sources import VENUE_FILE, Source
from survey.fieldbook.observations.waterlines_sheet import ring_day
from survey.fieldbook.remarks import Remarks
from survey.fieldbook.venue.outline_grid import in_metres
from survey.fieldbook.venue.water_rings import area_within
from survey.records.declaration import Declaration
from survey.records.fieldbook import Change
from survey.records.venue import Venue
from survey.units.dates import DateRules


def read_changes(
    sources: Sequence[Source], venue: Venue, declared: Declaration, remarks: Remarks
) -> tuple[Change, ...]:
    """Every change of the bed, by its day, then where it is written; areas in the venue CRS.

    The day is the feature's ``date`` (or ``day``, ``since``, ``from``), or stands in its name or in the name of the
    file, written 2026-03-01. Parts with the same day, name and note are one change.

    Raises
    ------
    FieldbookError
        A file that cannot be read, a ring left open or crossing itself.
    """
    rules = DateRules(declared.dates, declared.zone)
    changes = [change for source in sources for change in _of_file(source, venue, rules, remarks)]
    if declared.since:
        changes.append(Change(SourceRow(VENUE_FILE, column="[survey] since"), declared.since))
    return tuple(sorted(changes, key=lambda change: (change.new_from, change.place)))


def _of_file(source: Source, venue: Venue, rules: DateRules, remarks: Remarks) -> Iterator[Change]:
    outline = read_outline(source, remarks, "a changed bed")
    rings: defaultdict[tuple[str, str, str], list[Ring]] = defaultdict(list)
    for ring in in_metres([outline], venue.crs, remarks)[0][0]:
        when = ring_day(ring, source.name, rules)
        rings[when.day if when else "", ring.feature, ring.note].append(ring)
    for number, ((day, feature, note), parts) in enumerate(sorted(rings.items()), start=1):
        place = SourceRow(source.name, number)
        area = area_within(parts, source.name, venue.crs, venue.spans, remarks)
        if not day:
            remarks.warning(
                "change-undated",
                place,
                "the polygon has no date, so older readings there are still used",
                'Give it a property "date": the day from which the bed there is new.',
                feature,
            )
        elif not area.intersects(venue.water):
            remarks.warning(
                "change-off-water",
                place,
                "the polygon touches no water, so it changes nothing",
                "Check where it was drawn, and its coordinate system.",
                feature,
            )
        else:
            yield Change(place, day, area, note or feature)
