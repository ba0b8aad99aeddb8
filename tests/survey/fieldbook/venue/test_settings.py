"""venue.toml and the finding of the sources: what is declared, what is stated, what is refused."""

import hashlib
import zipfile

import pytest

from survey.errors import FieldbookError
from survey.fieldbook import NO_LEVELS, read_fieldbook, sources_digest
from survey.fieldbook.venue.float_keys import read_floats_file
from survey.units.float_ratings import FloatMark
from tests.made.findings import found

FULL = """
name = "Quillmere"
crs = "EPSG:32630"
timezone = "Europe/London"
shows = "metres"
credit = "The club"
licence = "CC0-1.0"
emergency = "Gate, Mill Lane"
cautions = ["Deep at the dam"]
dates = "dmy"
[files]
readings = ["spring.csv"]
[level]
kind = "dip"
datum = 12
unit = "in"
outline_level = "0.5 m"
[edge]
depth = "2 in"
sd = "0.3 m"
[units]
depth = "ft"
stick_spacing = "12 ft"
rod_length = "13 ft"
pole_section = "1.5 m"
distance_from = "edge"
rod_reach = "3 m"
north = "magnetic"
declination = "3W"
[limits]
sd = "0.35 m"
reach = "60 yd"
[spreads]
facing_declared_deg = 2
pole_depth_m = "3 cm"
[floats."Long wag"]
length = "10 in"
tip = "2 cm"
setting_to = "tip"
[floats.Slider]
length = "30 cm"
tip = "3 cm"
kind = "sliding"
mark = "2 AAA + 2 BB loaded"
"""


def test_everything_declared_is_kept(read):
    venue = read(FULL, spring__csv="peg,clock,distance (m),depth,date\n1,12,10,5,3/5/2026\n").venue
    assert (venue.name, venue.timezone, venue.shows) == ("Quillmere", "Europe/London", "metres")
    assert (venue.credit, venue.licence, venue.emergency) == ("The club", "CC0-1.0", "Gate, Mill Lane")
    assert venue.cautions == ("Deep at the dam", NO_LEVELS)
    assert (venue.mark.kind, venue.mark.datum_m, venue.mark.outline_m) == ("dip", pytest.approx(0.3048), 0.5)
    assert (venue.edge_depth_m, venue.edge_sd_m) == (pytest.approx(0.0508), 0.3)
    assert (venue.sizes.wrap_m, venue.sizes.section_m) == (pytest.approx(3.6576), 1.5)
    assert (venue.rod_reach_m, venue.declination_deg) == (3.0, -3.0)
    assert (venue.limits.sd_m, venue.limits.reach_m) == (0.35, pytest.approx(54.864))
    assert (venue.standard_errors.facing_declared_deg, venue.standard_errors.pole_depth_m) == (2.0, 0.03)
    wag = venue.float_named("long WAG")
    assert (wag.length_m, wag.tip_m, wag.setting_to) == (pytest.approx(0.254), 0.02, "tip")
    assert (wag.kind, wag.mark) == ("fixed", None)
    slider = venue.float_named("slider")
    assert (slider.kind, slider.mark) == ("sliding", FloatMark(pytest.approx(0.8), pytest.approx(1.6)))


def test_only_a_name_is_needed_and_every_default_is_stated(read):
    stated = " ".join(read().venue.stated)
    for words in (
        "UTM zone of the lake's centre", "without a zone: UTC", "No level mark", "the mark at 0.",
        "traced at the datum", "traced edge: 0 m", "at the edge: ± 0.20 m", "Surveyed water: ± 0.40 m",
        "45 m (49 yd) from a peg", "reach: ± 0.30 m",
    ):  # fmt: skip
        assert words in stated


@pytest.mark.parametrize(("toml", "words"), [
    ("", "the water has no name"),
    ('name = "Q"\nname = "Q"', "the file is not TOML"),
    ('name = "Q"\nnmae = "Q"', 'column "nmae": the key is not known. Allowed in the top of the file are name, shows'),
    ('name = "Q"\ntimezon = "UTC"', 'Perhaps "timezone" is meant'),
    ('name = "Q"\n[unit]\ndepth = "ft"', 'Perhaps "units" is meant'),
    ('name = "Q"\n[units]\ndpeth = "ft"', '"[units] dpeth": the key is not known'),
    ('name = "Q"\n[units]\ndepth = "fathoms"', "this is not a unit of length"),
    ('name = "Q"\n[units]\nstick_spacing = 12', 'Write it with its unit, like stick_spacing = "12 m"'),
    ('name = "Q"\n[units]\nstick_spacing = "12 furlongs"', 'Correct it, like stick_spacing = "0.4 m"'),
    ('name = "Q"\n[limits]\nsd = "some"', 'Correct it, like sd = "0.4 m"'),
    ('name = "Q"\n[units]\nstick_spacing = "0 m"', "a size must be above zero"),
    ('name = "Q"\n[units]\ndeclination = 3', 'Write declination = "3E", or W'),
    ('name = "Q"\n[units]\nnorth = "south"', "not one of true, magnetic, grid"),
    ('name = "Q"\n[limits]\nsd = 0.4', 'Write it with its unit, like sd = "0.4 m"'),
    ('name = "Q"\n[level]\nkind = "board"\ndatum = 0.35', 'like datum = "0.35 m"'),
    ('name = "Q"\n[level]\nkind = "gauge"', "not one of board, dip"),
    ('name = "Q"\n[edge]\nsd = "0 m"', "must be above zero"),
    ('name = "Q"\nshows = "fathoms"', "not one of feet, metres"),
    ('name = "Q"\ncrs = "EPSG:4326"', "not in metres"),
    ('name = "Q"\ncrs = "EPSG:1"', "coordinate system is not known"),
    ('name = "Q"\ntimezone = "Mars/Crater"', "time zone is not known"),
    ('name = "Q"\ntimezone = "../../etc/passwd"', "time zone is not known"),
    ('name = "Q"\ncautions = "one"', "not a list of texts"),
    ("name = 7", 'Write it in quotation marks: name = "7"'),
    ('name = "Q"\nlevel = "board"', "[level] is not a section"),
    ('name = "Q"\n[spreads]\ncompass_deg = -1', "a standard deviation is zero or more"),
    ('name = "Q"\n[spreads]\ncompass_deg = "4"', "this is not a number"),
    ('name = "Q"\n[floats.Wag]\nlength = "25 cm"', "the float has no tip"),
    ('name = "Q"\n[floats.Wag]\nlength = "1.51 m"\ntip = "2 cm"', "length 1.51 m; a float is 0 to 1.5 m long"),
    ('name = "Q"\n[floats.Wag]\nlength = "2 cm"\ntip = "5 cm"', "0.05 m of tip showing"),
    ('name = "Q"\n[floats.Wag]\nlength = "9 cm"\ntip = "2 cm"\nmark = "4x14"', "maker's code or a range"),
    ('name = "Q"\n[floats.Wag]\nlength = "9 cm"\ntip = "2 cm"\nkind = "flying"', "not one of fixed, sliding, pole"),
])  # fmt: skip
def test_what_is_not_understood_is_refused(refusal, toml, words):
    assert words in refusal(toml or "# nothing\n")


def test_all_faults_come_at_once(folder):
    with pytest.raises(FieldbookError) as raised:
        read_fieldbook(folder('name = "Q"\nshows = "x"\n[units]\ndepth = "x"\nnorth = "x"\n'))
    assert len(raised.value.faults) == 3


@pytest.mark.parametrize("name", ["../outside.csv", "/etc/hostname", "a\\\\b.csv", "c:x.csv", "sub/../../outside.csv"])
def test_a_name_may_not_lead_out_of_the_folder(folder, name):
    target = folder(f'name = "Q"\n[files]\nreadings = "{name}"\n')
    (target.parent / "outside.csv").write_text("peg,angle\n")
    with pytest.raises(FieldbookError, match="the name leads out of the venue folder"):
        read_fieldbook(target)


def test_missing_and_doubled_files_are_named(folder, refusal):
    target = folder()
    with pytest.raises(FieldbookError, match="there is no such folder"):
        read_fieldbook(target / "none")
    (target / "venue.toml").unlink()
    with pytest.raises(FieldbookError, match=r"venue\.toml: the file is missing"):
        read_fieldbook(target)
    assert "there is no outline of the water" in refusal(outline__geojson=None)
    assert "there is no sheet of pegs" in refusal(pegs__csv=None)
    assert "there is no sheet of readings" in refusal(readings__csv=None)
    assert "more than one file is called pegs: pegs.csv, pegs.txt" in refusal(pegs__csv="x", pegs__txt="x")
    assert "there is no such file" in refusal('name = "Q"\n[files]\npegs = "p.csv"\n')


def test_a_file_of_another_kind_is_noted(read):
    book = read(readings__csv="peg,clock,distance (m),depth (m)\n1,12,9,1\n", readings_old__pdf=b"%PDF")
    assert [f.place.file for f in found(book, "file-not-read")] == ["readings_old.pdf"]


def test_folders_and_files_that_programs_hide_are_no_sources(folder):
    target = folder()
    sound = read_fieldbook(target)
    for name in ("~$survey.xlsx", "._survey.xlsx", ".readings.csv"):
        (target / name).write_bytes(b"not a sheet")
    for name in ("readings 2025", "old.xlsx"):
        (target / name).mkdir()
    assert read_fieldbook(target) == sound


def test_an_oversized_file_is_refused(folder):
    target = folder()
    with (target / "readings.csv").open("r+b") as file:
        file.truncate(65 * 1024 * 1024)
    with pytest.raises(FieldbookError, match="the file has 68 MB, more than the 67 MB that are read"):
        read_fieldbook(target)


def test_a_workbook_that_unpacks_to_far_too_much_is_refused(folder):
    target = folder(readings__csv=None)
    with (
        zipfile.ZipFile(target / "readings.xlsx", "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part,
    ):
        for _ in range(520):
            part.write(bytes(1024 * 1024))
    with pytest.raises(FieldbookError, match="unpacks to far more than a survey holds"):
        read_fieldbook(target)


@pytest.mark.parametrize("content", [b"PK\x03\x04 broken", b"no workbook", b""])
def test_a_broken_workbook_is_refused(refusal, content):
    assert "readings.xlsx: " in refusal(readings__xlsx=content)


def test_entities_in_a_workbook_are_refused(folder):
    target = folder(readings__csv=None)
    with zipfile.ZipFile(target / "readings.xlsx", "w") as archive:
        archive.writestr("xl/workbook.xml", '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>')
    with pytest.raises(FieldbookError, match="its XML declares entities"):
        read_fieldbook(target)


def test_sources_are_not_touched_and_the_digest_follows_them(folder):
    target = folder()
    before = {p.name: (hashlib.sha256(p.read_bytes()).hexdigest(), p.stat().st_mtime_ns) for p in target.iterdir()}
    for path in target.iterdir():
        path.chmod(0o444)
    book = read_fieldbook(target)
    after = {p.name: (hashlib.sha256(p.read_bytes()).hexdigest(), p.stat().st_mtime_ns) for p in target.iterdir()}
    assert before == after
    assert book.digest == sources_digest(target) == read_fieldbook(target).digest
    (target / "readings.csv").chmod(0o644)
    (target / "readings.csv").write_text("peg,clock,distance (m),depth (m)\n1,12,9,1\n")
    assert sources_digest(target) != book.digest


# --- floats of one's own ---


def test_a_personal_file_of_floats_is_read_like_the_venue_s(tmp_path):
    path = tmp_path / "floats.toml"
    path.write_text('[floats."My wag"]\nlength = "10 in"\ntip = "1 in"\nmark = "3 No 4"\n', encoding="utf-8")
    (wag,) = read_floats_file(path)
    assert (wag.name, wag.mark) == ("My wag", FloatMark(pytest.approx(0.6)))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", r"floats\.toml, column \"floats\": there is no float in it"),
        ("floats = 3", "floats are sections"),
        ('[floats.Wag]\nlength = "9 cm"', r"floats\.toml, column \"\[floats.\"Wag\"\] tip\": the float has no tip"),
        ('name = "mine"\n[floats.Wag]\nlength = "9 cm"\ntip = "2 cm"', "the key is not known"),
        ("[floats", "the file is not TOML"),
    ],
)
def test_what_is_wrong_in_it_names_the_file(tmp_path, text, says):
    path = tmp_path / "floats.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FieldbookError, match=says):
        read_floats_file(path)


def test_a_missing_file_of_floats_is_said(tmp_path):
    with pytest.raises(FieldbookError, match=r"nowhere\.toml: the file cannot be opened"):
        read_floats_file(tmp_path / "nowhere.toml")
