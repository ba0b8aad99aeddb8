"""One survey written in every way a club may write it, and read to the same readings each time."""

import csv
import io
import itertools
import zipfile
from dataclasses import replace
from datetime import datetime, time

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.errors import FieldbookError, SourceRow
from survey.fieldbook import read_fieldbook
from tests.made.findings import CASES, found, rejected_rows

# peg, angle, distance in metres, depth in feet, date, note
SURVEY = [
    ("1", 0.0, 12.5, 6.5, (3, 5, 2026), "Café corner"),
    ("1", -30.5, 20.0, 4.25, (20, 10, 2026), ""),
    ("Stump", 45.0, 8.25, 3.0, (4, 7, 2026), "weed; thick, 2 ft"),
    ("A", 7.5, 31.0, 10.75, (4, 7, 2026), "said 5'2\""),
]
SEPARATORS = (",", ";", "\t", "|")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252")
HEADERS = {
    "bracket": "Peg{s}angle (°){s}distance (m){s}depth ({u}){s}date{s}note",
    "underscore": "peg{s}ANGLE_deg{s}distance_m{s}DEPTH_{u}{s}Date{s}notes",
    "words": " Swim {s}cast angle{s}distance in metres{s}Depth in {u}{s}day{s}Remarks",
    "units row": "peg{s}angle{s}distance{s}depth{s}date{s}note\n{s}°{s}m{s}{u}{s}dd/mm/yyyy{s}",
    "title": "Quillmere, plumbed in summer\n\npeg{s}angle{s}distance (m){s}depth ({u}){s}date{s}note",
}
DEPTHS = {
    "ft": lambda ft: (f"{ft:g}", "ft"),
    "m": lambda ft: (f"{ft * 0.3048:.6f}", "m"),
    "feet and inches": lambda ft: (f"{int(ft)}'{ft % 1 * 12:g}\"", "m"),
    "primes and halves": lambda ft: (f"{int(ft)}’ {ft % 1 * 12:g}”", "m"),
    "mixed": lambda ft: (f"{ft:g} ft" if ft > 4 else f"{ft * 304.8:.3f} mm", "in"),
    "cm in the cell": lambda ft: (f"{ft * 30.48:.4f} cm", "ft"),
}


def quoted(cell: str, separator: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if {separator, '"', "\n"} & set(cell) else cell


def sheet(separator: str, comma: bool, header: str, unit_form: str) -> str:
    def figures(text: str) -> str:
        return text.replace(".", ",") if comma else text

    unit = DEPTHS[unit_form](1.0)[1]
    lines = [HEADERS[header].format(s=separator, u=unit)]
    for peg, angle, distance, feet, (day, month, year), note in SURVEY:
        cells = [peg, figures(f"{angle:g}"), figures(f"{distance:g}"), figures(DEPTHS[unit_form](feet)[0])]
        cells += [f"{day:02d}/{month:02d}/{year}", note]
        lines.append(separator.join(quoted(cell, separator) for cell in cells))
    return "\r\n".join(lines) + "\r\n"


def told(readings):
    """What was read, with the place left out and depths to a hundredth of a millimetre."""
    nowhere = SourceRow("")
    return [replace(reading, place=nowhere, depth_m=round(reading.depth_m, 5)) for reading in readings]


EVERY = [
    (separator, comma, ENCODINGS[(k + j) % len(ENCODINGS)], header, unit_form)
    for j in range(2)
    for k, (separator, comma, header, unit_form) in enumerate(
        itertools.product(SEPARATORS, (False, True), HEADERS, DEPTHS)
    )
]
"""Every separator, decimal, header and unit form with each other, each in two encodings."""


@pytest.fixture(scope="module")
def expected():
    return [("1", 0.0, 12.5, 1.9812), ("1", -30.5, 20.0, 1.2954), ("1", 45.0, 8.25, 0.9144), ("A", 7.5, 31.0, 3.2766)]


@pytest.mark.parametrize("written", EVERY, ids=lambda written: "-".join(map(str, written)))
def test_every_way_of_writing_gives_the_same_readings(read, expected, written):
    separator, comma, encoding, header, unit_form = written
    book = read(readings__csv=sheet(separator, comma, header, unit_form).encode(encoding))
    got = [(r.peg, r.where.direction.value_deg, r.where.distance_m, round(r.depth_m, 5)) for r in book.readings]
    assert got == expected
    assert [r.when.day for r in book.readings] == ["2026-05-03", "2026-10-20", "2026-07-04", "2026-07-04"]
    assert [r.note for r in book.readings] == [row[-1] for row in SURVEY]
    assert book.rows == len(SURVEY)


def test_the_corpus_is_wide_enough():
    assert len(set(EVERY)) == 2 * 4 * 2 * len(HEADERS) * len(DEPTHS) >= 300
    assert {encoding for _, _, encoding, _, _ in EVERY} == set(ENCODINGS)


def workbook(rows, **sheets) -> bytes:
    book = openpyxl.Workbook()
    for name, content in {"Saturday": rows, **sheets}.items():
        page = book.create_sheet(name)
        for row in content:
            page.append(row)
    del book["Sheet"]
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_workbook_gives_the_same_readings_as_text(read):
    text = read(readings__csv=sheet(",", False, "bracket", "ft"))
    rows = [["peg", "angle (°)", "distance (m)", "depth (ft)", "date", "note"]]
    rows += [
        [p if not p.isdigit() else int(p), a, x, d, f"{y}-{m:02d}-{day:02d}", n]
        for p, a, x, d, (day, m, y), n in SURVEY
    ]
    book = read(readings__xlsx=workbook(rows))
    assert told(book.readings) == told(text.readings)


@pytest.mark.parametrize("merged", ["E1:E3", "E2:F2", "A4:A5", "B9:B12", "A3:A5"])
def test_merged_cells_beyond_a_table_change_nothing_of_it(read, merged):
    book = openpyxl.Workbook()
    for row in (["peg", "angle", "distance (m)", "depth (m)"], [1, 0, 10, 1.2], ["A", 5, 12, 1.5]):
        book.active.append(row)
    book.active.merge_cells(merged)
    stream = io.BytesIO()
    book.save(stream)
    assert [(r.peg, r.depth_m) for r in read(readings__xlsx=stream.getvalue()).readings] == [("1", 1.2), ("A", 1.5)]


def test_sheets_of_one_workbook_are_named_in_places(read):
    header = ["peg", "angle", "distance (m)", "depth (m)", "date"]
    first, second = [header, [1, 0, 10, 1.2, "2026-05-03"]], [header, ["X", 0, 10, 1.2, "2026-05-03"]]
    book = read(readings__xlsx=workbook(first, Sunday=second, Plan=[["bring sandwiches"]]))
    assert [str(r.place) for r in book.readings] == ['readings.xlsx, sheet "Saturday", row 2']
    unknown, unread = (next(f for f in book.findings if f.code == code) for code in ("peg-unknown", "sheet-not-read"))
    assert str(unknown.place) == 'readings.xlsx, sheet "Sunday", row 2, column "peg"'
    assert unread.place.file == 'readings.xlsx, sheet "Plan"'
    assert book.rows == 2


def test_one_workbook_may_hold_everything(read):
    pegs = [["peg", "lon", "lat"], [1, -2.3118121, 54.1017371]]
    levels = [["date", "level (m)"], ["2026-05-03", 0.6]]
    rows = [["peg", "clock", "distance (m)", "depth (m)", "date"], [1, 12, 10, 1.2, "2026-05-03"]]
    sheets = {"pegs": pegs, "Levels": levels, "readings spring": rows}
    book = read(
        'name = "Q"\n[level]\nkind = "board"\n',
        survey__xlsx=workbook([["nothing"]], **sheets),
        pegs__csv=None,
        readings__csv=None,
    )
    assert ([p.name for p in book.venue.pegs], len(book.levels), len(book.readings)) == (["1"], 1, 1)


def test_spreadsheet_dates_and_times_are_plain(read):
    rows = [["peg", "clock", "distance (m)", "depth (m)", "date", "time"]]
    rows += [
        [1, time(12, 30), 10, 1.2, datetime.fromisoformat("2026-05-03"), time(10, 15)],
        [1, time(1, 0), 10, 1.2, datetime.fromisoformat("2026-05-03"), None],
    ]
    book = read(readings__xlsx=workbook(rows))
    assert [r.where.direction.value_deg for r in book.readings] == [15.0, 30.0]
    assert [r.when.instant.isoformat() for r in book.readings] == [
        "2026-05-03T10:15:00+00:00",
        "2026-05-03T12:00:00+00:00",
    ]
    assert {r.where.direction.by for r in book.readings} == {"half hours"}


LINES = [
    "1,0,12,1.4,03/05/2026", "2,30,20,5 ft 2,20/10/2026", "A,-30,8,1.1,04/07/2026", "nobody,0,9,1.0,04/07/2026",
    "1,15,,1.0,04/07/2026", "4,,11,0.9,04/07/2026", "5,10,11,deep,04/07/2026", "6,10,11,-1,04/07/2026",
]  # fmt: skip


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(LINES))
def test_the_order_of_rows_changes_nothing(folder, order):
    head = "peg,angle,distance (m),depth (m),date\n"
    plain, mixed = (read_fieldbook(folder(readings__csv=head + "\n".join(lines) + "\n")) for lines in (LINES, order))
    by_line = {line: row for row, line in enumerate(order, start=2)}
    moved = [replace(r, place=replace(r.place, row=by_line[LINES[r.place.row - 2]])) for r in plain.readings]
    assert sorted(moved, key=lambda r: r.place) == list(mixed.readings)
    assert sorted((f.code, f.value) for f in plain.findings) == sorted((f.code, f.value) for f in mixed.findings)
    rejected = {f.place.row for f in mixed.findings if f.grade.value == "error"}
    assert len(mixed.readings) + len(rejected) == mixed.rows == len(LINES)


CELLS = st.one_of(
    st.sampled_from(
        ["", "1", "A", "12", "12:30", "1,4", "1.4", "5'2\"", "-3", "–", "Mean", "03/05/2026", "20/10/2026", "#REF!"]
    ),
    st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=8),
)
SHEETS = st.lists(st.lists(CELLS, max_size=7), max_size=8)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=SHEETS)
def test_whatever_stands_in_a_sheet_each_row_is_read_or_told_of(folder, rows):
    stream = io.StringIO()
    csv.writer(stream).writerows([["peg", "clock", "distance (m)", "depth (m)", "date", "note"], *rows])
    target = folder('name = "Q"\ndates = "dmy"\n', readings__csv=stream.getvalue())
    try:
        book = read_fieldbook(target)
    except FieldbookError as refused:
        assert refused.faults  # noqa: PT017 - the other outcome is that it was read
        return
    assert len(book.readings) + len(rejected_rows(book)) == book.rows


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    data=st.binary(max_size=200),
    name=st.sampled_from(
        ["readings.csv", "readings.xlsx", "pegs.ods", "levels.xls", "venue.toml", "outline.json", "outline.gpkg"]
    ),
)
def test_bytes_of_any_kind_are_read_or_refused(folder, data, name):
    target = folder()
    for path in target.glob(f"{name.split('.')[0]}.*"):
        path.unlink()
    (target / name).write_bytes(data)
    try:
        read_fieldbook(target)
    except FieldbookError as refused:
        assert name in str(refused) or name.split(".")[0] in str(refused)  # noqa: PT017


def open_document(*rows: str) -> bytes:
    """A workbook of one sheet, as the standard has it (OASIS OpenDocument 1.2, part 1, chapter 9)."""
    names = "".join(f' xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    table = f'<table:table table:name="Sheet1">{"".join(rows)}</table:table>'
    body = f"<office:body><office:spreadsheet>{table}</office:spreadsheet></office:body>"
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", f"<office:document-content{names}>{body}</office:document-content>")
    return stream.getvalue()


def ods_row(*cells: str | float, span: int = 1, repeated: int = 1) -> str:
    kinds = {str: 'office:value-type="string"', float: 'office:value-type="float" office:value="{0:g}"'}
    written = [f"<table:table-cell {kinds[type(c)].format(c)}><text:p>{c}</text:p></table:table-cell>" for c in cells]
    spanned = f'<table:table-cell table:number-rows-spanned="{span}"'
    row = "".join(written).replace("<table:table-cell", spanned, 1)
    return f'<table:table-row table:number-rows-repeated="{repeated}">{row}</table:table-row>'


ODS_HEAD = ods_row("peg", "angle", "distance (m)", "depth (m)")


def test_an_open_document_workbook_is_read_with_its_merged_cells(read):
    book = read(readings__ods=open_document(ODS_HEAD, ods_row("A", 0.0, 10.0, 1.25), ods_row(1.0, 5.0, 12.0, 1.5)))
    assert [(r.peg, r.depth_m) for r in book.readings] == [("A", 1.25), ("1", 1.5)]
    merged = "<table:table-row><table:covered-table-cell/>" + ods_row(5.0, 12.0, 1.5).split(">", 1)[1]
    rows = ("<table:table-row/>", ods_row("A", 0.0, 10.0, 1.2, span=2), merged)
    book = read(readings__ods=open_document(ODS_HEAD, *rows))
    assert [(r.peg, r.depth_m, r.place.row) for r in book.readings] == [("A", 1.2, 3), ("A", 1.5, 4)]
    assert "merged cells count for each of their rows: A3:A4" in found(book, "merged-cells")[0].problem


def test_a_formula_without_a_value_in_an_open_document_is_named(read):
    formula = ods_row(1.0, 5.0, 12.0)[: -len("</table:table-row>")]
    formula += '<table:table-cell table:formula="of:=[.D2]+1"/></table:table-row>'
    book = read(readings__ods=open_document(ODS_HEAD, ods_row("A", 0.0, 10.0, 1.25), formula))
    assert [r.depth_m for r in book.readings] == [1.25]
    assert "cell D3 holds a formula" in found(book, "formula-without-value")[0].problem


def test_an_old_workbook_reads_as_a_new_one(read):
    """Written once by a library for the old format (BIFF8): a merged peg, a stored time, a blank row."""
    book = read(readings__xls=CASES / "old-workbook/readings.xls")
    assert [(r.peg, r.where.direction.value_deg, r.depth_m, r.place.row) for r in book.readings] == [
        ("1", 15.0, 1.4, 3),
        ("1", 0.0, 2.2, 4),
        ("A", -15.0, 0.9, 6),
    ]
    assert [r.when.day for r in book.readings] == ["2026-07-04"] * 3
