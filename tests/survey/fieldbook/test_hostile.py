"""Files made to harm: refused in words, without being unpacked, expanded or laid out in memory."""

import io
import json
import zipfile

import openpyxl
import pytest

from tests.made.findings import found

HEAD = '<row r="1"><c r="A1" t="inlineStr"><is><t>peg</t></is></c></row>'
SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = f'<worksheet xmlns="{SPACE}"><sheetData>{{}}</sheetData></worksheet>'


def workbook_with(sheet: bytes) -> bytes:
    """A sound workbook with the XML of its sheet put in place of its own."""
    plain, stream = io.BytesIO(), io.BytesIO()
    openpyxl.Workbook().save(plain)
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, sheet if name == "xl/worksheets/sheet1.xml" else old.read(name))
    return stream.getvalue()


def open_document(content: str) -> bytes:
    names = "".join(f' xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    table = f'<table:table table:name="S">{content}</table:table>'
    body = f"<office:body><office:spreadsheet>{table}</office:spreadsheet></office:body>"
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", f"<office:document-content{names}>{body}</office:document-content>")
    return stream.getvalue()


@pytest.mark.parametrize("cell", ["XFD1048576", "A1048576", "XFD2", "BZZ200001"])
def test_a_single_cell_far_out_makes_no_grid(refusal, cell):
    row = cell.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    sheet = SHEET.format(f'{HEAD}<row r="{row}"><c r="{cell}"><v>1</v></c></row>').encode()
    assert "more than 200000 rows, 1000 columns" in refusal(readings__xlsx=workbook_with(sheet))


def test_an_empty_styled_cell_far_out_does_no_harm(refusal):
    sheet = SHEET.format(f'{HEAD}<row r="9"><c r="XFD9" s="1"/></row>').encode()
    assert "the sheet has no" in refusal(readings__xlsx=workbook_with(sheet))


def test_a_cell_repeated_a_thousand_million_times_is_refused(refusal):
    cell = '<table:table-cell table:number-columns-repeated="16384" office:value-type="float" office:value="1"/>'
    row = f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'
    assert "more than 200000 rows, 1000 columns" in refusal(readings__ods=open_document(row))


@pytest.mark.parametrize("name", ["readings__xlsx", "outline__kmz", "outline__zip"])
def test_a_bomb_is_not_unpacked(refusal, name):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in range(3):
            archive.writestr(f"lake{part}.kml", b"\0" * 90_000_000)
    assert "unpacks to far more than a survey holds" in refusal(**{name: stream.getvalue()})


def test_a_part_that_unpacks_to_other_than_it_says_is_refused(refusal):
    data = bytearray(workbook_with(SHEET.format(HEAD).encode() + b" " * 100_000))
    at = data.find(b"xl/worksheets/sheet1.xml", data.find(b"PK\x01\x02")) - 46
    data[at + 24 : at + 28] = (200).to_bytes(4, "little")
    assert "damaged or locked" in refusal(readings__xlsx=bytes(data))


@pytest.mark.parametrize("before", [b"", b"<!--" + b"x" * 3_000_000 + b"-->"])
def test_entities_are_refused_wherever_they_stand(refusal, before):
    sheet = before + b'<!DOCTYPE l [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>' + SHEET.format(HEAD).encode()
    assert "declares entities" in refusal(readings__xlsx=workbook_with(sheet))


@pytest.mark.parametrize(
    "text",
    [
        "peg,clock\n" + "1,12\n" * 200_001,
        ",".join("x" * 2000) + "\n1\n",
        "peg,clock\n" + "1," * 700_000,
        'peg,clock\n"' + "1,12\n" * 60_000,
    ],
)
def test_text_that_no_survey_fills_is_refused(refusal, text):
    assert any(words in refusal(readings__csv=text) for words in ("more than", "cannot be split into cells"))


@pytest.mark.parametrize(
    ("toml", "far"),
    [
        ("", 1e300),
        ("", 1e19),
        ('name = "Q"\ncrs = "EPSG:32630"\n', 1e300),
        ('name = "Q"\ncrs = "EPSG:32630"\n', -1e308),
        ('name = "Q"\ncrs = "EPSG:32630"\n', 1e6),
        ("", 80.0),
    ],
)
def test_gigantic_coordinates_are_no_lake(refusal, toml, far):
    ring = [[0, 0], [far, 0], [far, far], [0, far], [0, 0]]
    message = refusal(toml, outline__geojson=json.dumps({"type": "Polygon", "coordinates": [ring]}))
    assert any(words in message for words in ("names no coordinate system", "outside the area", "km across"))


def test_deep_nesting_and_endless_figures_are_refused(refusal):
    assert "this is not GeoJSON" in refusal(outline__geojson="[" * 100_000)
    endless = '{"type":"Polygon","coordinates":[[[' + "9" * 10_000 + ",0],[1,1],[0,1]]]}"
    assert "this is not GeoJSON" in refusal(outline__geojson=endless)


@pytest.mark.parametrize(
    "name", ['=HYPERLINK("http://a.example","x")', "<script>alert(1)</script>", "{{7*7}}", "%s%n", "../../x"]
)
def test_names_made_to_run_are_texts(read, name):
    quoted = '"' + name.replace('"', '""') + '"'
    book = read(readings__csv=f"peg,clock,distance (m),depth (m),note\n{quoted},12,10,1,\n1,12,10,1,{quoted}\n")
    assert found(book, "peg-unknown")[0].value == name
    assert book.readings[0].note == name


@pytest.mark.parametrize("name", ["../outside.csv", "/etc/hostname", "a\\..\\b.csv", "C:pegs.csv"])
def test_a_name_that_leads_out_of_the_folder_is_refused(refusal, name):
    assert "leads out of the venue folder" in refusal(f"name = \"Q\"\n[files]\npegs = '{name}'\n")


@pytest.mark.parametrize(
    "mark",
    [*"\u061c\u200b\u200e\u200f\u2060\ufeff", *map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))],
)
def test_marks_that_nobody_sees_neither_turn_a_name_round_nor_make_another(read, mark):
    """Unicode UAX 9: marks of direction; characters of no width."""
    book = read(readings__csv=f"peg,clock,distance (m),depth (m),note\n{mark}1{mark},12,10,1,a{mark}b\n")
    assert [(r.peg, r.note) for r in book.readings] == [("1", "ab")]
    assert found(book, "control-characters")


@pytest.mark.parametrize("name", ["موقع", "اتاق\u200cها", "πέστροφα", "क\u200dष"])
def test_letters_of_any_script_and_what_joins_them_stay(read, name):
    book = read(readings__csv=f"peg,clock,distance (m),depth (m),note\n1,12,10,1,{name}\n")
    assert book.readings[0].note == name
