"""A survey as everybody may see it: without who plumbed, what was noted in private, and what the club hides.

Made before anything is drawn or written, so that no page or file can forget it. Knows nothing of pages and files.
"""

from __future__ import annotations

from dataclasses import replace

from maps.language.catalogue import catalogue_of
from survey.errors import SourceRow, SurveyError
from survey.findings import Finding
from survey.records.fieldbook import Fieldbook
from survey.records.readings import Intersection, Reading
from survey.records.soundings import Soundings
from survey.records.venue import Venue
from survey.workup import WorkedSurvey


def public_copy(worked: WorkedSurvey) -> WorkedSurvey:
    """The survey without observers and their biases, notes, decisions, names of files, words of findings, hidden pegs.

    Parameters
    ----------
    worked : WorkedSurvey

    Returns
    -------
    WorkedSurvey
        The bed and its lines are the same. Sheets are numbered in the order of their names; findings keep grade,
        code and row. Where the venue hides its readings, they are counted and no longer shown.

    Raises
    ------
    SurveyError
        ``hide_pegs`` names a peg the venue does not have: it might be one that is meant to be hidden.
    """
    hidden = _hidden_pegs(worked.venue)
    venue = replace(worked.venue, pegs=tuple(peg for peg in worked.venue.pegs if peg.name not in hidden))
    sheets = _sheet_names(worked)
    table = worked.soundings.table
    kept = ~table["peg"].isin(hidden)
    plain = table.assign(observer="", file=table["file"].map(sheets))
    return replace(
        worked,
        fieldbook=_public_book(worked.fieldbook, venue, sheets, hidden),
        soundings=Soundings(plain.loc[kept].reset_index(drop=True)),
        residuals=worked.residuals.loc[kept.to_numpy()].reset_index(drop=True),
        spots=tuple(spot for spot in worked.spots if spot.peg not in hidden),
        findings=tuple(_public_finding(finding, sheets) for finding in worked.findings),
        crossovers=None,
        readings_shown=not venue.publishing.hides_readings,
    )


def _hidden_pegs(venue: Venue) -> frozenset[str]:
    found = {name: venue.peg(name) for name in venue.publishing.hidden_pegs}
    unknown = [name for name, peg in found.items() if peg is None]
    if unknown:
        raise SurveyError(
            f'venue.toml, [publish] hide_pegs: there is no peg "{unknown[0]}". '
            "Nothing was published, so that no hidden peg can show. Correct the name."
        )
    return frozenset(peg.name for peg in found.values() if peg)


def _sheet_names(worked: WorkedSurvey) -> dict[str, str]:
    """A number for each file that a row or a finding came from: file names show who wrote them."""
    files = {finding.place.file for finding in worked.findings} | set(worked.soundings.table["file"])
    files |= {place.file for place in worked.fieldbook.row_places}
    files |= {reading.place.file for reading in worked.fieldbook.readings}
    said = catalogue_of(worked.venue)
    return {file: said.say("sheet", number=k) for k, file in enumerate(sorted(files), start=1)}


def _public_book(book: Fieldbook, venue: Venue, sheets: dict[str, str], hidden: frozenset[str]) -> Fieldbook:
    shown = [reading for reading in book.readings if not _stood(reading) & hidden]
    places = set(book.row_places) - {reading.place for reading in book.readings} | {r.place for r in shown}
    return replace(
        book,
        venue=venue,
        readings=tuple(
            replace(reading, place=SourceRow(sheets[reading.place.file], reading.place.row), observer="", note="")
            for reading in shown
        ),
        findings=(),
        row_places=tuple(SourceRow(sheets[p.file], p.row) for p in book.row_places if p in places),
        edges=(),
        changes=(),
        decisions=(),
        tags={},
    )


def _stood(reading: Reading) -> frozenset[str]:
    """The pegs a reading was taken from: two where it was sighted."""
    other = {reading.where.other_peg} if isinstance(reading.where, Intersection) else set()
    return frozenset({reading.peg} | other)


def _public_finding(finding: Finding, sheets: dict[str, str]) -> Finding:
    place = SourceRow(sheets[finding.place.file], finding.place.row)
    return Finding(finding.grade, finding.code, place, finding.code.replace("-", " "))
