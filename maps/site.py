"""The folder a club publishes: map, a page for each peg, the guide, files, and a list of them all.

Every link is relative, so that it works from a disk, a stick and any host. Everything in it is made from the public
copy of the survey. It appears whole or not at all.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup

import survey
from maps.content.margin import margin_data
from maps.content.spot_rows import spot_answers
from maps.drawing.backdrop import Backdrop
from maps.drawing.colours import bands
from maps.drawing.peg_fan import PublishedSurvey
from maps.drawing.picture import sample_bed, unsurveyed
from maps.drawing.projection import fit_projection
from maps.files.b12 import crowd_geojson
from maps.files.geopackage import write_geopackage
from maps.files.geotiff import write_raster
from maps.files.output_folder import whole_folder
from maps.files.settings_table import write_settings
from maps.files.summary import MADE_BY, about_tags
from maps.files.vectors import contour_features, geojson, gpx, kml, peg_features, spot_features
from maps.language.catalogue import catalogue_of
from maps.page.map_page import page_html
from maps.page.moved_page import moved_page
from maps.page.peg_page import peg_page
from maps.page.shell import filled, frame_values, own_style
from maps.print.guide import Printing, guide_pdf
from maps.privacy.placeless_files import crs_of_files, is_placeless, without_place
from maps.privacy.public_copy import public_copy
from survey.bed.margins import is_steep
from survey.errors import SurveyError
from survey.records.venue import Peg, Venue
from survey.workup import WorkedSurvey

SITE_FILE = "site.json"
INDEX, MAP, GUIDE, PEGS, FILES = "index.html", "map.html", "guide.pdf", "pegs", "files"
KILO = 1000
NAME_LETTERS = 40

Tell = Callable[[str], None]


def our_site(folder: Path) -> frozenset[str] | None:
    """Names an earlier publishing wrote into a folder; None if none did."""
    try:
        said = json.loads((folder / SITE_FILE).read_text(encoding="utf-8"))
        if not str(said["made_by"]).startswith(f"{MADE_BY} "):
            return None
        return frozenset({SITE_FILE, *(str(file["name"]).split("/")[0] for file in said["files"])})
    except (OSError, ValueError, KeyError, TypeError):
        return None


@dataclass(frozen=True)
class Site:
    """What is published, and where.

    Parameters
    ----------
    worked : WorkedSurvey
        The public copy.
    shown_m : float
        What the level mark shows, metres, for the figures that stand without a program.
    about : dict of str
        What every file says of itself.
    """

    worked: WorkedSurvey
    shown_m: float
    about: dict[str, str]

    @property
    def venue(self) -> Venue:
        """The venue without what the club hides."""
        return self.worked.venue


@dataclass(frozen=True)
class Copy:
    """How this copy is made.

    Parameters
    ----------
    shown_m : float or None
        What the level mark shows; None: the datum.
    backdrop : Backdrop or None
        A picture of the ground to lie under the map.
    """

    shown_m: float | None = None
    backdrop: Backdrop | None = None


AT_DATUM = Copy()


def publish(worked: WorkedSurvey, target: Path, how: Copy = AT_DATUM, tell: Tell = lambda _: None) -> tuple[Path, ...]:
    """Write the whole folder; an earlier one is replaced only when all is complete.

    Parameters
    ----------
    worked : WorkedSurvey
        As the club has it; what must not be published is taken out here.
    target : Path
    how : Copy, optional
    tell : callable, optional
        Told in words what is being done.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    SurveyError
        ``target`` holds other things; a peg to be hidden is not known; the place is to be hidden and the survey was
        not worked up in the lake's own frame (:func:`maps.privacy.own_frame.in_own_frame`).
    """
    public = public_copy(worked)
    if public.venue.publishing.hides_place:
        public = without_place(public)
        if how.backdrop is not None and not how.backdrop.placeless:
            raise SurveyError("[publish] hide_place: the picture of the ground is laid where the lake lies.")
    shown = public.venue.mark.datum_m if how.shown_m is None else how.shown_m
    said = catalogue_of(public.venue)
    level = said.say("told_level", shown=said.metres(shown))
    site = Site(public, shown, about_tags(public) | {"level": level})
    with whole_folder(target, our_site) as part:
        _fill(part, site, how.backdrop, tell)
        written = tuple(path.relative_to(part) for path in sorted(part.rglob("*")) if path.is_file())
    return tuple(target / path for path in written)


def _fill(part: Path, site: Site, backdrop: Backdrop | None, tell: Tell) -> None:
    worked, venue, shown = site.worked, site.venue, site.shown_m
    frame = fit_projection(venue.crs, venue.water.bounds)
    sheet = sample_bed(worked.bed, frame, venue.limits)
    lake = PublishedSurvey(worked, bands(worked.isobaths["depth_m"]), unsurveyed(sheet, frame, venue.water))
    pages = {peg.name: f"{PEGS}/{page_name(peg.name)}" for peg in venue.pegs}
    tell("drawing the map")
    _write(part / MAP, page_html(worked, shown, pages, backdrop))
    tell("drawing the pegs")
    (part / PEGS).mkdir()
    said = catalogue_of(venue)
    links = (f"../{INDEX}", said["peg_index"]), (f"../{MAP}", said["peg_map"])
    for peg in venue.pegs:
        _write(part / pages[peg.name], peg_page(lake, frame, peg, shown, links))
    for page, peg in old_pages(venue).items():
        _write(part / PEGS / page, moved_page(venue, peg, page_name(peg.name)))
    tell("setting the guide")
    addresses = {name: f"{venue.publishing.address.rstrip('/')}/{page}" for name, page in pages.items()}
    printing = Printing(frame, sheet, shown, addresses if venue.publishing.address else {})
    (part / GUIDE).write_bytes(guide_pdf(lake, printing))
    tell("writing the files")
    (part / FILES).mkdir()
    write_downloads(part / FILES, site)
    _write(part / INDEX, index_page(part, site, pages))
    _write(part / SITE_FILE, json.dumps(_contents(part, site), indent=2, ensure_ascii=False) + "\n")


def page_name(name: str) -> str:
    """File name of a peg's page: its painted name where that is plain, so that a printed code keeps leading to it.

    Examples
    --------
    >>> page_name("12")
    'peg-12.html'
    """
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:NAME_LETTERS]
    if plain == name:
        return f"peg-{plain}.html"
    # Names that lose letters or signs are kept apart by a digest of the whole name.
    own = hashlib.sha256(name.encode()).hexdigest()[:6]
    return f"peg-{plain}-{own}.html" if plain else f"peg-{own}.html"


def old_pages(venue: Venue) -> dict[str, Peg]:
    """File names that pegs have by their other names, as before they were renamed; none is a page of today's.

    Parameters
    ----------
    venue : Venue
        The public copy: what a hidden peg is called besides must not show either.
    """
    hidden = {name.casefold() for name in venue.publishing.hidden_pegs}
    today = {page_name(peg.name) for peg in venue.pegs}
    old = {page_name(alias): peg for peg in venue.pegs for alias in peg.aliases if alias.casefold() not in hidden}
    return {page: peg for page, peg in old.items() if page not in today}


DOWNLOADS = {
    "venue.gpkg": "file_gpkg",
    "depth.tif": "file_tif",
    "contours.geojson": "file_contours",
    "spots.geojson": "file_spots",
    "pegs.geojson": "file_pegs",
    "venue.kml": "file_kml",
    "spots.gpx": "file_gpx",
    "settings.csv": "file_csv",
    "readings-b12.geojson": "file_b12",
}
"""Files for other programs, and the key of the words that describe them."""
GEOGRAPHIC = ("contours.geojson", "spots.geojson", "pegs.geojson", "venue.kml", "spots.gpx", "readings-b12.geojson")
"""Files whose standard knows longitude and latitude alone; a copy without its place has none of them."""


def write_downloads(folder: Path, site: Site) -> None:
    """The files for other programs; the readings only where they may be shared."""
    worked, venue, about = site.worked, site.venue, site.about
    answers = spot_answers(worked, site.shown_m)
    write_geopackage(folder / "venue.gpkg", worked, answers, about)
    write_raster(folder / "depth.tif", worked.bed, crs_of_files(venue), about, catalogue_of(venue))
    write_settings(folder / "settings.csv", worked, answers, site.shown_m)
    if is_placeless(venue):
        return
    _write(folder / "contours.geojson", geojson(contour_features(worked), about))
    _write(folder / "spots.geojson", geojson(spot_features(answers), about))
    _write(folder / "pegs.geojson", geojson(peg_features(venue), about))
    (folder / "venue.kml").write_bytes(kml(worked, answers, about))
    (folder / "spots.gpx").write_bytes(gpx(venue, answers, about))
    readings = crowd_geojson(worked, about)
    if readings is not None:
        _write(folder / "readings-b12.geojson", readings)


def index_page(part: Path, site: Site, pages: dict[str, str]) -> str:
    """The list of everything in the folder, for people."""
    venue, said = site.venue, catalogue_of(site.venue)
    files = [(f"{FILES}/{name}", said[key], _size(part / FILES / name)) for name, key in DOWNLOADS.items()]
    values = {
        **frame_values(venue, site.worked.days), "title": said.say("index_title", venue=venue.name), "map": MAP,
        "style": Markup(own_style("page", "peg")),  # noqa: S704 - the page's own
        "pegs": [
            (pages[peg.name], said.say("peg_title", peg=peg.name), _peg_words(site, peg)) for peg in venue.pegs
        ],
        "guide": (GUIDE, _size(part / GUIDE)), "placeless": is_placeless(venue),
        "files": [(to, label, size) for to, label, size in files if size],
    }  # fmt: skip
    return filled("index.html", values)


def _peg_words(site: Site, peg: Peg) -> str:
    margin = margin_data(site.worked, peg)
    steep = is_steep(margin["upper_m"], site.venue.mark.rise_m(site.shown_m))
    label = {
        "index_closed": peg.is_closed,
        "index_accessible": peg.is_accessible and not peg.is_closed,
        "index_steep": steep,
        "index_unsure": not margin["measured"],
    }
    said = catalogue_of(site.venue)
    return ", ".join((*peg.aliases, *(said[key] for key, holds in label.items() if holds)))


def _size(path: Path) -> str:
    """Size of a file as people write it; empty where there is none."""
    return f"{max(path.stat().st_size / KILO, 1):.0f} kB" if path.exists() else ""


def _contents(part: Path, site: Site) -> dict[str, Any]:
    files = sorted(path for path in part.rglob("*") if path.is_file())
    return {
        "made_by": f"{MADE_BY} {survey.__version__}",
        **{key: site.about[key] for key in ("title", "datum", "level", "surveyed", "licence", "credit")},
        "left_out": list(GEOGRAPHIC) if is_placeless(site.venue) else [],
        "files": [
            {"name": path.relative_to(part).as_posix(), "bytes": path.stat().st_size, "sha256": _digest(path)}
            for path in files
        ],
    }


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
