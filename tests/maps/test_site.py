"""The published folder: everything in it, nothing that must not be, links that hold, whole or not at all."""

from __future__ import annotations

import hashlib
import html
import json
import re
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pytest
from typer.testing import CliRunner

import maps.build
import maps.site
from maps.cli.main import app
from maps.privacy.public_copy import public_copy
from maps.site import DOWNLOADS, Copy, old_pages, page_name, publish
from survey.checks.crossovers import Bias, Crossovers, Pairs
from survey.errors import SourceRow, SurveyError
from survey.findings import Finding, Grade
from survey.records.fieldbook import Decision
from survey.records.readings import Cast, Direction, Intersection, Reading
from survey.records.soundings import Soundings
from survey.records.venue import Publishing
from survey.units.dates import Moment
from survey.workup import WorkedSurvey
from tests.made.own_venue import make_own
from tests.made.survey import NAMES, made_survey, publishing, without_extras

HIDDEN = "2"
SECRETS = ("Quillfeather", "M. Sedge", "sheet-of-sedge", "+44 7700 900123", "private ford", "K7MD-4PX4")
MOST_PEG_PAGE, MOST_MAP = 250_000, 1_500_000


def with_secrets(worked: WorkedSurvey) -> WorkedSurvey:
    """The made survey with names wherever a club may write them."""
    file = "sheet-of-sedge.csv"
    when = Moment(datetime(2026, 5, 3, 9, tzinfo=UTC), timedelta(0), "2026-05-03")
    cast = Cast(Direction("angle", 0.0, "aimed"), 9.0, "tape")
    readings = tuple(
        Reading(
            SourceRow(file, int(row)),
            str(peg),
            cast,
            depth_m=1.0,
            when=when,
            observer="M. Sedge",
            note="ask Quillfeather",
        )
        for row, peg in zip(worked.soundings.table["row"], worked.soundings.table["peg"], strict=True)
    )
    place = SourceRow(file, 9, "private ford")
    finding = Finding(
        Grade.ERROR, "observer-odd", place, "who is it", "Ring +44 7700 900123.", "Quillfeather", "K7MD-4PX4"
    )
    venue = replace(
        worked.venue, publishing=Publishing("https://example.org/pool/", (HIDDEN,), contact="club@example.org")
    )
    return replace(
        worked,
        fieldbook=replace(
            worked.fieldbook,
            venue=venue,
            readings=readings,
            findings=(finding,),
            row_places=tuple(reading.place for reading in readings),
            decisions=(Decision(place, "misfit", readings[0].place, "keep", "M. Sedge", "ask Quillfeather"),),
            tags={(reading.place.file, reading.place.row): "K7MD-4PX4" for reading in readings},
        ),
        soundings=Soundings(worked.soundings.table.assign(file=file)),
        findings=(*worked.findings, finding),
        crossovers=_crossovers(),
    )


def _crossovers() -> Crossovers:
    pairs = Pairs(np.array([0]), np.array([1]), np.array([0.1]), np.array([0.1]))
    return Crossovers(pairs, (Bias("observer", "M. Sedge", 0.1, 0.02, 9),))


@pytest.fixture(scope="module")
def secretive():
    return with_secrets(made_survey(cell_m=2.0))


@pytest.fixture(scope="module")
def site(secretive, tmp_path_factory):
    target = tmp_path_factory.mktemp("site") / "pool"
    publish(secretive, target)
    return target


def texts(path: Path) -> str:
    """What can be read in a file, whatever its kind: text, a database's cells, a PDF's words and data."""
    if path.suffix == ".pdf":
        return subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True, text=True).stdout
    raw = path.read_bytes().decode("utf-8", errors="replace")
    plain = re.sub(r"\\u([0-9a-fA-F]{4})", lambda found: chr(int(found[1], 16)), raw)
    return "\n".join((raw, html.unescape(raw), plain))


def test_names_notes_and_sheets_are_in_no_file(site):
    files = [path for path in site.rglob("*") if path.is_file()]
    assert len(files) > len(NAMES) + len(DOWNLOADS)
    for path in files:
        told = texts(path)
        assert [secret for secret in SECRETS if secret.casefold() in told.casefold()] == [], path.name


def test_the_search_for_secrets_finds_them_in_what_is_not_public(secretive, tmp_path):
    """The same search in the club's own files: it would see a leak."""
    maps.build.write_all(secretive, tmp_path / "own", None)
    found = {s for path in (tmp_path / "own").iterdir() for s in SECRETS if s.casefold() in texts(path).casefold()}
    assert {"M. Sedge", "Quillfeather", "sheet-of-sedge"} <= found


def test_a_hidden_peg_has_no_page_no_spot_no_reading_and_no_mark(site, secretive):
    copy = public_copy(secretive)
    assert HIDDEN not in {peg.name for peg in copy.venue.pegs}
    assert HIDDEN not in {spot.peg for spot in copy.spots} | set(copy.soundings.table["peg"])
    assert len(copy.soundings) == len(copy.residuals) < len(secretive.soundings)
    assert not (site / "pegs" / f"peg-{HIDDEN}.html").exists()
    data = page_data_of(site / "map.html")
    column = data["readings"]["columns"].index("peg")
    assert HIDDEN not in {peg["name"] for peg in data["pegs"]} | {row[column] for row in data["readings"]["rows"]}
    assert all(f["properties"]["name"] != HIDDEN for f in features(site / "files" / "pegs.geojson"))


def test_what_was_sighted_from_a_hidden_peg_too_is_hidden(secretive):
    first = secretive.fieldbook.readings[0]
    sighted = replace(first, where=Intersection(first.where.direction, HIDDEN, first.where.direction))
    book = replace(secretive.fieldbook, readings=(sighted, *secretive.fieldbook.readings[1:]))
    shown = public_copy(replace(secretive, fieldbook=book)).fieldbook
    assert all(not isinstance(reading.where, Intersection) for reading in shown.readings)
    assert len(shown.row_places) == len(shown.readings)


def test_hidden_readings_are_counted_and_not_shown(secretive, tmp_path):
    publish(publishing(secretive, hides_readings=True), tmp_path / "pool")
    data = page_data_of(tmp_path / "pool" / "map.html")
    assert data["readings"]["rows"] == []
    assert "Surveyed: 3 May 2026 to 14 June 2026." in (tmp_path / "pool" / "map.html").read_text("utf-8")
    assert not (tmp_path / "pool" / "files" / "readings-b12.geojson").exists()
    page = (tmp_path / "pool" / "pegs" / page_name(secretive.venue.pegs[0].name)).read_text("utf-8")
    assert "About one reading per" in page


def test_a_peg_to_be_hidden_that_is_not_known_stops_everything(secretive, tmp_path):
    venue = replace(secretive.venue, publishing=Publishing(hidden_pegs=("1O",)))
    with pytest.raises(SurveyError, match=r'there is no peg "1O".*Nothing was published'):
        publish(replace(secretive, fieldbook=replace(secretive.fieldbook, venue=venue)), tmp_path / "pool")
    assert list(tmp_path.iterdir()) == []


def page_data_of(path: Path) -> dict:
    found = re.search(r'id="survey-data">(.*?)</script>', path.read_text("utf-8"), re.DOTALL)
    return json.loads(found[1])


def features(path: Path) -> list[dict]:
    return json.loads(path.read_text("utf-8"))["features"]


class Links(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):  # noqa: ARG002 - the parser's own form
        self.found += [value for name, value in attrs if name in {"href", "src", "xlink:href", "action"}]


def test_every_link_is_relative_and_leads_to_a_file(site, secretive):
    reached = {site / "index.html"}
    for page in site.rglob("*.html"):
        links = Links()
        links.feed(page.read_text("utf-8"))
        for link in links.found:
            if link.startswith(("#", "data:")):
                continue
            there = (page.parent / unquote(link)).resolve()
            assert there.is_relative_to(site.resolve()), link
            assert there.is_file(), link
            reached.add(there)
    reached |= {(site / "pegs" / page).resolve() for page in old_pages(public_copy(secretive).venue)}
    reached |= {(site / address).resolve() for address in page_data_of(site / "map.html")["pages"].values()}
    everything = {path.resolve() for path in site.rglob("*") if path.is_file()}
    assert everything - {path.resolve() for path in reached} == {(site / "site.json").resolve()}


def test_each_peg_has_one_page_whose_name_follows_from_its_own(site, secretive):
    pegs = [peg for peg in secretive.venue.pegs if peg.name != HIDDEN]
    names = [page_name(peg.name) for peg in pegs]
    assert len(set(names)) == len(pegs)
    assert {path.name for path in (site / "pegs").iterdir()} == {*names, page_name("The point")}
    assert all(re.fullmatch(r"peg-[a-z0-9-]+\.html", name) for name in names)
    assert page_name("7A") != page_name("7a")
    assert page_name("Łódź") != page_name("池")


def test_the_address_of_an_old_name_leads_on_without_a_script(site, secretive):
    (peg,) = [peg for peg in secretive.venue.pegs if peg.aliases]
    page = (site / "pegs" / page_name("The point")).read_text("utf-8")
    assert f'<meta http-equiv="refresh" content="0; url={page_name(peg.name)}">' in page
    assert f'<a href="{page_name(peg.name)}">' in page
    assert f"This peg is now called {peg.name}." in page
    assert "<script" not in page


def test_another_name_of_a_hidden_peg_has_no_page_and_an_old_name_replaces_none_of_today(secretive):
    venue = secretive.venue
    aliases = {HIDDEN: ("Kingfisher bend",), venue.pegs[2].name: (venue.pegs[3].name, HIDDEN, "Elder")}
    pegs = tuple(replace(peg, aliases=aliases.get(peg.name, ())) for peg in venue.pegs)
    worked = replace(secretive, fieldbook=replace(secretive.fieldbook, venue=replace(venue, pegs=pegs)))
    assert old_pages(public_copy(worked).venue) == {page_name("Elder"): pegs[2]}


def test_what_a_hidden_peg_is_called_besides_is_in_no_file(secretive, tmp_path):
    pegs = (replace(p, aliases=("Kingfisher bend",)) if p.name == HIDDEN else p for p in secretive.venue.pegs)
    venue = replace(secretive.venue, pegs=tuple(pegs))
    publish(replace(secretive, fieldbook=replace(secretive.fieldbook, venue=venue)), tmp_path / "pool")
    told = {path.name for path in (tmp_path / "pool").rglob("*") if "kingfisher" in path.name}
    told |= {p.name for p in (tmp_path / "pool").rglob("*") if p.is_file() and "kingfisher" in texts(p).casefold()}
    assert told == set()


def test_sizes_are_those_of_a_phone_without_a_signal(site):
    assert max(path.stat().st_size for path in (site / "pegs").iterdir()) <= MOST_PEG_PAGE
    assert (site / "map.html").stat().st_size <= MOST_MAP


def test_the_same_survey_is_published_the_same_to_the_byte(site, secretive, tmp_path):
    publish(secretive, tmp_path / "again")
    assert digests(tmp_path / "again") == digests(site)


def digests(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_the_contents_say_what_is_there(site):
    said = json.loads((site / "site.json").read_text("utf-8"))
    there = {name: digest for name, digest in digests(site).items() if name != "site.json"}
    assert {file["name"]: file["sha256"] for file in said["files"]} == there
    assert said["datum"] == "the dip at 0.42 m"
    assert said["licence"] == "CC BY 4.0"


def test_a_failure_leaves_the_old_folder_and_a_success_replaces_it(secretive, tmp_path, monkeypatch):
    target = tmp_path / "pool"
    publish(secretive, target)
    (target / "notice.txt").write_text("the club's own", encoding="utf-8")
    before = digests(target)

    def fails(*_):
        raise OSError("no room")

    with monkeypatch.context() as patched:
        patched.setattr(maps.site, "guide_pdf", fails)
        with pytest.raises(OSError, match="no room"):
            publish(secretive, target, Copy(0.40))
    assert digests(target) == before
    assert [path.name for path in tmp_path.iterdir()] == ["pool"]
    publish(secretive, target, Copy(0.40))
    assert (target / "notice.txt").read_text("utf-8") == "the club's own"
    assert digests(target)["map.html"] != before["map.html"]


def test_a_venue_with_next_to_nothing_is_published_too(tmp_path):
    publish(without_extras(made_survey(cell_m=2.0)), tmp_path / "bare")
    index = (tmp_path / "bare" / "index.html").read_text("utf-8")
    assert "map.html" in index
    assert "readings-b12" not in index
    assert list((tmp_path / "bare" / "pegs").iterdir()) == []


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('address = "example.org"', "not a web address"),
        ('address = "https://x.org/\\"><b>"', "not a web address"),
        ('contact = "the secretary"', "not a mail address"),
        ("hide_readings = 1", "neither true nor false"),
        ('hide_pegs = "12"', "not a list of texts"),
        ("hide_peg = []", "the key is not known"),
    ],
)
def test_what_is_wrong_under_publish_is_said_with_what_to_write(tmp_path, line, says):
    CliRunner().invoke(app, ["new", str(tmp_path / "lake")])
    with (tmp_path / "lake" / "venue.toml").open("a", encoding="utf-8") as handle:
        handle.write(f"\n[publish]\n{line}\n")
    told = CliRunner().invoke(app, ["publish", str(tmp_path / "lake"), "--out", str(tmp_path / "site")])
    assert told.exit_code == 2
    assert says in told.output
    assert not (tmp_path / "site").exists()


def test_a_column_marked_private_is_not_read_and_is_said_to_be_left(tmp_path):
    folder = tmp_path / "lake"
    CliRunner().invoke(app, ["new", str(folder)])
    make_own(folder)
    sheet = folder / "readings.csv"
    lines = sheet.read_text("utf-8").splitlines()
    marked = [f"{line},{'private note' if k == 0 else 'Quillfeather'}" for k, line in enumerate(lines)]
    sheet.write_text("\n".join(marked) + "\n", encoding="utf-8")
    checked = CliRunner().invoke(app, ["check", str(folder)])
    assert "marked private and is not read" in checked.output
    told = CliRunner().invoke(app, ["publish", str(folder), "--out", str(tmp_path / "site")])
    assert told.exit_code == 0, told.output
    assert "peg pages" in told.output
    for path in (tmp_path / "site").rglob("*"):
        assert path.is_dir() or "quillfeather" not in texts(path).casefold(), path.name
