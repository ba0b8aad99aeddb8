"""The printed guide: true to scale, whole whatever the names, tagged, and the same each time."""

from __future__ import annotations

import json
import re
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import typst
import zxingcpp
from page import ValidationProfile, validate_pdf_bytes

from maps.drawing.colours import bands
from maps.drawing.peg_fan import PublishedSurvey
from maps.drawing.picture import sample_bed, unsurveyed
from maps.drawing.projection import fit_projection
from maps.language.catalogue import english
from maps.print.glyphs import BOX, letters_for
from maps.print.guide import SCALES, Printing, _guide, guide_pdf
from survey.workup import WorkedSurvey
from tests.made.survey import made_survey, publishing

A4_PT = {(595, 842), (842, 595)}
"""ISO 216: 210 mm by 297 mm."""


def parts(worked: WorkedSurvey, addresses: dict[str, str] | None = None) -> tuple[PublishedSurvey, Printing]:
    frame = fit_projection(worked.venue.crs, worked.venue.water.bounds)
    sheet = sample_bed(worked.bed, frame, worked.venue.limits)
    lake = PublishedSurvey(worked, bands(worked.isobaths["depth_m"]), unsurveyed(sheet, frame, worked.venue.water))
    return lake, Printing(frame, sheet, worked.venue.mark.datum_m, addresses or {})


def named(worked: WorkedSurvey, names: list[str], venue_name: str = "Tansy Pool") -> WorkedSurvey:
    pegs = tuple(replace(peg, name=name) for peg, name in zip(worked.venue.pegs, names, strict=False))
    spots = tuple(
        replace(spot, peg=name)
        for spot in worked.spots
        for peg, name in zip(worked.venue.pegs, names, strict=False)
        if spot.peg == peg.name
    )
    venue = replace(worked.venue, pegs=pegs, name=venue_name)
    return replace(worked, fieldbook=replace(worked.fieldbook, venue=venue), spots=spots)


OVERLAP_PT = 1.5
"""A box of a word holds room above and below its letters."""


def lengthened(said: Any, by: str) -> Any:
    """A text whose words of five letters and more are longer; names in braces stay."""
    if isinstance(said, list):
        return [lengthened(one, by) for one in said]
    if isinstance(said, dict):
        return {form: lengthened(one, by) for form, one in said.items()}
    return "".join(
        part if part.startswith("{") else re.sub("[a-z]{5,}", lambda word: word.group() + by, part)
        for part in re.split(r"(\{[^}]*\})", said)
    )


@pytest.fixture(scope="module")
def worked():
    return made_survey(cell_m=2.0)


@pytest.fixture(scope="module")
def guide(worked, tmp_path_factory):
    path = tmp_path_factory.mktemp("guide") / "guide.pdf"
    path.write_bytes(guide_pdf(*parts(worked, {"1": "https://example.org/pool/pegs/peg-1.html"})))
    return path


def catalogue_of(path: Path) -> str:
    return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True, text=True).stdout


def info_of(path: Path) -> str:
    return subprocess.run(["pdfinfo", path], capture_output=True, check=True, text=True).stdout


def test_a_map_and_two_cards_to_a_sheet(guide, worked):
    told = info_of(guide)
    assert int(re.search(r"Pages: +(\d+)", told)[1]) == 1 + -(-len(worked.venue.pegs) // 2)
    width, height = (round(float(v)) for v in re.search(r"Page size: +([\d.]+) x ([\d.]+)", told).groups())
    assert (width, height) in A4_PT


def test_it_is_tagged_and_says_that_it_is_pdf_ua(guide):
    """ISO 14289-1 (PDF/UA-1), clause 5: the part number in the document's metadata; 7.1: tagged."""
    assert "Tagged:          yes" in info_of(guide)
    assert b"pdfuaid:part" in guide.read_bytes()


def ua_faults(data: bytes) -> list[str]:
    """Rules of PDF/UA-1 (ISO 14289-1) that a validator finds broken: page, of the package page-validation."""
    report = validate_pdf_bytes(data, profile=ValidationProfile.PDF_UA_1)
    assert report.rules.total > 100
    return [failure.rule_id for failure in report.failures]


def test_a_validator_finds_nothing_against_pdf_ua(guide, worked):
    assert ua_faults(guide.read_bytes()) == []
    awkward = named(worked, ["Żabie oczko", "中文 名", "🎣 peg", "x" * 90, "7 & <b>"], "Ζαγόρι 🎣")
    assert ua_faults(guide_pdf(*parts(awkward))) == []


def test_the_validator_sees_what_is_wrong():
    bare = typst.compile(b"= Peg 12\n#table(columns: 2)[a][b]", pdf_tags=False)
    assert {"PDFUA1-TAGGED-DOCUMENT-001", "PDFUA1-METADATA-TITLE-001"} & set(ua_faults(bare))


def test_the_cards_say_what_an_angler_must_know(guide):
    words = " ".join(catalogue_of(guide).split())
    for must in (
        "A starting point, not a promise. Plumb before you fish.", "Tansy Lane gate, by the old kiln", "CLOSED",
        "Steep margin", "Margin not measured", "The north bank is soft after rain", "Bottom felt: silt",
        "3 May 2026 to 14 June 2026", "Scale 1 : ", "Depths are for the dip at 0.42 m",
    ):  # fmt: skip
        assert must in words


def test_the_scale_is_true(worked):
    """A unit of the drawing is a metre: paper width times scale is ground width."""
    data = _guide(*parts(worked))
    for svg, width_mm, scale in [
        (data["map"]["svg"], data["map"]["width"], data["map"]["scale"]),
        *((card["fan"], card["fan_width"], card["scale"]) for card in data["pegs"]),
    ]:
        units = float(re.search(r'viewBox="[-\d.]+ [-\d.]+ ([\d.]+)', svg)[1])
        stated = float(scale.split(":")[1])
        assert stated in SCALES
        assert width_mm / 1000 * stated == pytest.approx(units, abs=0.06)


def test_the_bar_on_paper_is_as_long_as_it_says(guide, worked, tmp_path):
    """The page rasterised at ten dots a millimetre: the thick stroke under the words "N m" is measured."""
    dark = on_paper(guide, 1, tmp_path) < 110
    data = _guide(*parts(worked))["map"]
    bar_m = float(re.search(r">([\d.]+) m</text>", data["svg"])[1])
    wanted = 10 * 1000 * bar_m / float(data["scale"].split(":")[1])
    runs = {longest_run(row) for row in dark[dark.shape[0] // 2 :]}
    assert any(abs(run - wanted) <= 6 for run in runs), (wanted, sorted(runs)[-8:])


def on_paper(pdf: Path, page: int, folder: Path) -> np.ndarray:
    """A page as grey values, ten dots a millimetre."""
    one = ["-f", f"{page}", "-l", f"{page}"]
    subprocess.run(["pdftoppm", "-r", "254", "-gray", *one, pdf, folder / "page"], check=True)
    data = next(folder.glob("page*.pgm")).read_bytes()
    width, height = (int(v) for v in re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", data).groups())
    return np.frombuffer(data[-width * height :], np.uint8).reshape(height, width)


def longest_run(row) -> int:
    return max((len(run) for run in "".join("x" if dot else " " for dot in row).split()), default=0)


def test_names_in_any_script_print_or_show_a_box(worked, tmp_path):
    names = ["Ωμέγα", "Łąka", "سمك", "🐟 7", "池", "a\u0301", "x" * 60, "Ж", "=1+1", "#panic()", "$x$", "*b*", "_", '"']
    lettered = named(worked, names, "Λίμνη 🐟")
    path = tmp_path / "guide.pdf"
    path.write_bytes(guide_pdf(*parts(lettered)))
    told = catalogue_of(path)
    for name in ("Ωμέγα", "Łąka", "Ж", "#panic()", "$x$", "*b*", "=1+1", "á"):
        assert name in told
    missing = letters_for(["🐟池"]).missing
    assert (BOX in told) == bool(missing)
    assert ("could not be printed" in told) == bool(missing)


def test_letters_without_a_font_are_told_from_those_with_one():
    found = letters_for(["Łódź Ωμέγα Привет ½ ±", "\U0001faf6\u200d\ufe0f"])
    assert not found.missing & set("ŁódźΩμέγαПривет½±")
    assert "\U0001faf6" in found.missing
    assert found.shown("a\U0001faf6\u200db") == f"a{BOX}b"


def test_two_hundred_pegs_with_long_names_lay_out(worked, tmp_path):
    pegs = worked.venue.pegs
    many = tuple(
        replace(pegs[k % len(pegs)], name=f"The very long name of peg number {k} by the old mill", note="soft " * 80)
        for k in range(200)
    )
    of = {peg.name: name.name for peg, name in zip(pegs, many, strict=False)}
    spots = tuple(replace(spot, peg=of[spot.peg]) for spot in worked.spots)
    venue = replace(worked.venue, pegs=many, name="A water " * 10)
    path = tmp_path / "guide.pdf"
    crowded = replace(worked, fieldbook=replace(worked.fieldbook, venue=venue), spots=spots)
    path.write_bytes(guide_pdf(*parts(crowded)))
    assert "Pages:           101" in info_of(path)


@pytest.mark.parametrize("longer", ["", "en", "ungen"])
def test_longer_words_run_over_no_other_words(worked, tmp_path, longer):
    """A translation is longer than English; boxes of words as pdftotext finds them must not overlap."""
    own = {key: lengthened(said, longer) for key, said in english().items()} | {"language": "de"}
    path = tmp_path / "guide.pdf"
    path.write_bytes(guide_pdf(*parts(publishing(worked, words=json.dumps(own)), {"1": "https://example.org/1"})))
    told = subprocess.run(
        ["pdftotext", "-bbox", "-f", "2", str(path), "-"], capture_output=True, text=True, check=True
    ).stdout
    for page in told.split("<page ")[1:]:
        boxes = [
            shapely.box(*map(float, found)).buffer(-OVERLAP_PT)
            for found in re.findall(r'xMin="(.+?)" yMin="(.+?)" xMax="(.+?)" yMax="(.+?)">[^<\d]{4,}<', page)
        ]
        tree = shapely.STRtree(boxes)
        assert len(boxes) > 20
        pairs = tree.query(boxes, predicate="intersects")
        assert (pairs[0] == pairs[1]).all()


def test_the_same_survey_prints_the_same_bytes(guide, worked):
    again = guide_pdf(*parts(worked, {"1": "https://example.org/pool/pegs/peg-1.html"}))
    assert again == guide.read_bytes()


def test_a_code_is_only_where_there_is_an_address(worked):
    cards = _guide(*parts(worked, {"1": "https://example.org/pool/pegs/peg-1.html"}))["pegs"]
    assert [bool(card["code"]) for card in cards] == [peg.name == "1" for peg in worked.venue.pegs]


def test_the_printed_code_is_read_as_the_address(worked, tmp_path):
    """Read back from the rasterised card by another library (zxing-cpp, ISO/IEC 18004)."""
    address = "https://example.org/pool/pegs/peg-1.html"
    (tmp_path / "guide.pdf").write_bytes(guide_pdf(*parts(worked, {"1": address})))
    found = zxingcpp.read_barcodes(on_paper(tmp_path / "guide.pdf", 2, tmp_path))
    assert [code.text for code in found] == [address]
