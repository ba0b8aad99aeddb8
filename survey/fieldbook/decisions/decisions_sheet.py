"""The decisions sheet: what people answered to findings, by tag of the reading, or by sheet and row.

Knows nothing of the findings themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from survey.errors import SourceRow
from survey.fieldbook.decisions.reading_tags import NoReading, ReadingTags
from survey.fieldbook.remarks import Remarks, nearest
from survey.fieldbook.tables.cells import LONGEST, CellReader, RowReader
from survey.fieldbook.tables.headers import Row, Table
from survey.fieldbook.tables.vocabulary import DECISIONS
from survey.records.declaration import Declaration
from survey.records.fieldbook import Decision
from survey.records.readings import Reading

COMMAND = "lakeplumb decisions VENUE"
NAMED = 12
COMMENT = "#"
"""A row that begins with it is a remark."""


def missing_decision_columns(found: Iterable[str]) -> str:
    """What a decisions sheet lacks."""
    names = set(found)
    lacking = [] if names & {"tag", "row"} else ['column "tag" or "row"']
    return " and no ".join([*lacking, *([] if "decision" in names else ['column "decision"'])])


def read_decisions(
    tables: Sequence[Table], tags: ReadingTags, declared: Declaration, remarks: Remarks
) -> tuple[Decision, ...]:
    """Decisions whose reading is in the reading sheets; the others are reported, and apply to nothing."""
    decisions = []
    for table in tables:
        cells = CellReader({}, declared.sizes)
        strayed: list[tuple[Row, Decision]] = []
        for row in table.rows:
            if "".join(row.cells).strip().startswith(COMMENT):
                continue
            reader = RowReader(row, cells, remarks)
            about = _tagged(reader, tags) if row.text("tag") else _numbered(reader, tags)
            answer = reader.choice("decision", DECISIONS)
            if answer is None and not reader.rejected:
                reader.reject("decision-missing", "decision", "nothing is decided", "Write out, keep or noted.")
            if about is None or answer is None or reader.rejected:
                continue
            decided = Decision(
                place=row.place(),
                code=row.text("code").casefold(),
                about=about,
                answer=answer,
                by=row.text("observer"),
                note=row.text("note"),
                tag=tags.tag(about),
                said=tags.written(about),
                by_tag=bool(row.text("tag")),
            )
            decisions.append(decided)
            if not decided.by_tag:
                _tell_untagged(decided, remarks)
            elif not names_place(row, about):
                strayed.append((row, decided))
        _tell_strayed(strayed, remarks)
    return tuple(sorted(decisions, key=lambda d: d.place))


def _tagged(reader: RowReader, tags: ReadingTags) -> SourceRow | None:
    """Where the reading of a tag stands; None, with a finding, where the tag means none or more than one."""
    typed = reader.row.text("tag")[:LONGEST]
    found = tags.find(typed)
    if not isinstance(found, NoReading):
        return found
    perhaps = f"Perhaps {_shown(found.nearest[0], tags)} is meant." if found.nearest else ""
    if found.kind == "wrong":
        remedy = perhaps or f"Copy it from the finding as the check prints it; {_standing(reader.row, tags)}."
        reader.reject("decision-tag-wrong", "tag", f'"{typed}" is not the tag of a reading', remedy)
    elif found.kind == "shared":
        each = ", ".join(found.nearest)
        reader.reject(
            "decision-tag-shared",
            "tag",
            f"more than one reading says this now, so the decision {_said(reader.row)}is not applied",
            f"Write the tag of the one that is meant: {each}.",
        )
    else:
        reader.reject(
            "decision-reading-gone",
            "tag",
            f"no reading says this any more, so the decision {_said(reader.row)}is not applied; "
            f"{_standing(reader.row, tags)}",
            f"{perhaps} Look at it as it stands now: decide again with its tag, or delete the decision.".strip(),
        )
    return None


def _shown(tag: str, tags: ReadingTags) -> str:
    place = tags.find(tag)
    return tag if isinstance(place, NoReading) else f"{tag} ({place}: {tags.written(place)})"


def _said(row: Row) -> str:
    """What a decision decided, and of which reading as far as it was written down."""
    parts = [row.text(name)[:LONGEST] for name in ("decision", "said", "observer", "note")]
    return f"({'; '.join(part for part in parts if part)}) "


def _standing(row: Row, tags: ReadingTags) -> str:
    """What stands now in the row that a decision names."""
    number = row.text("row")
    sheets = _sheets_named(row.text("sheet"), tags)
    place = SourceRow(sheets[0], int(number)) if len(sheets) == 1 and re.fullmatch(r"\d{1,7}", number) else None
    if place is None:
        return "it names no row to look in"
    if not tags.tag(place):
        return f"{place} holds no reading now"
    return f"{place} now says {tags.written(place)} [{tags.tag(place)}]"


def _sheets_named(named: str, tags: ReadingTags) -> list[str]:
    """Reading sheets that a name fits; all of them without a name."""
    sheets = list(dict.fromkeys(place.file for place in tags.places))
    exact = [sheet for sheet in sheets if sheet.casefold() == named.casefold()]
    return exact or [sheet for sheet in sheets if sheet.casefold().startswith(named.casefold())]


def _numbered(reader: RowReader, tags: ReadingTags) -> SourceRow | None:
    """The row a decision without a tag is about; a sheet need not be named where there is only one."""
    number, named = reader.row.text("row"), reader.row.text("sheet")
    if not re.fullmatch(r"\d{1,7}", number):
        problem = "this is not a row number" if number else "the decision names no reading"
        remedy = "Write the tag of the reading, or its row number, as the check names it."
        reader.reject("decision-row-missing", "row", problem, remedy)
        return None
    fitting = _sheets_named(named, tags)
    if len(fitting) != 1:
        sheets = list(dict.fromkeys(place.file for place in tags.places))
        problem = f'"{named}" is not a reading sheet' if named else "the decision does not say of which sheet"
        remedy = f"Reading sheets are {', '.join(sheets) or 'none'}.{nearest(named, sheets)}"
        reader.reject("decision-sheet-unknown", "sheet", problem, remedy)
        return None
    about = SourceRow(fitting[0], int(number))
    if not tags.tag(about):
        reader.reject("decision-row-missing", "row", f"there is no {about} that holds a reading", "Correct it.")
        return None
    return about


def names_place(row: Row, about: SourceRow) -> bool:
    """Whether the sheet and row beside a tag, as far as they are written, are where its reading stands."""
    sheet, number = row.text("sheet"), row.text("row")
    return about.file.casefold().startswith(sheet.casefold()) and number in {"", str(about.row)}


def _tell_untagged(decided: Decision, remarks: Remarks) -> None:
    remarks.note(
        "decision-untagged",
        decided.place,
        f"the decision has no tag and goes by row number, which slides when rows are added: {decided.about} says "
        f"{decided.said} [{decided.tag}]",
        f"Write the tag, or have it written: {COMMAND}.",
    )


def _tell_strayed(strayed: Sequence[tuple[Row, Decision]], remarks: Remarks) -> None:
    """One warning a sheet, since a sheet that was sorted has every row number wrong."""
    if not strayed:
        return
    named = [f"row {row.number}: {decided.tag} stands in {decided.about}" for row, decided in strayed[:NAMED]]
    more = f" and {len(strayed) - NAMED} more" if len(strayed) > NAMED else ""
    remarks.warning(
        "decision-strayed",
        strayed[0][0].place("row"),
        f"tag and row do not agree in {len(strayed)} decision{'s' if len(strayed) > 1 else ''}, and the tag was "
        f"followed ({'; '.join(named)}{more})",
        f"If the sheet was sorted or rows were added, have the rows corrected: {COMMAND}. Otherwise look at the tags.",
    )


def with_decisions(readings: Sequence[Reading], decisions: Sequence[Decision], remarks: Remarks) -> tuple[Reading, ...]:
    """Readings, those decided against no longer in use."""
    out = {(d.about.file, d.about.row): d for d in decisions if d.answer == "out"}
    for decision in out.values():
        why = f": {decision.note}" if decision.note else ""
        who = f" by {decision.by}" if decision.by else ""
        remarks.note("decision-taken", decision.about, f"left out{who}{why} ({decision.place})")
    return tuple(replace(r, use=False) if (r.place.file, r.place.row) in out else r for r in readings)
