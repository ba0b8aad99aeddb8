"""Past readings and spots with weed: shown as what they are, on map, peg page and card, and in the files."""

from dataclasses import replace

import numpy as np
import pyogrio
import pytest

from maps.content.peg_facts import bottom_near, peg_facts
from maps.content.peg_words import bottom_words, stop_words
from maps.files.geopackage import write_geopackage
from maps.files.summary import about_tags
from maps.language.catalogue import catalogue_of
from maps.page.data import READING_COLUMNS, _readings, peg_data
from survey.records.soundings import Soundings
from survey.workup import WorkedSurvey
from tests.made.survey import made_survey, publishing

WEED, PAST, CHANGED = 7, 9, 11


@pytest.fixture(scope="module")
def worked() -> WorkedSurvey:
    """The made survey with one spot of weed and one past reading."""
    made = made_survey(cell_m=2.0)
    table = made.soundings.table.copy()
    table.loc[WEED, ["kind", "stopped_by", "use", "depth_m"]] = ["none", "weed", False, np.nan]
    table.loc[PAST, ["new_from", "use"]] = ["2026-05-20", False]
    left = made.residuals.copy()
    left.loc[WEED, ["fitted_m", "residual_m", "z", "mistaken", "doubtful"]] = [1.0, np.nan, np.nan, np.nan, False]
    left.loc[CHANGED, "changed"] = True
    return replace(made, soundings=Soundings(table), residuals=left)


def peg_of(worked: WorkedSurvey, row: int):
    return worked.venue.peg(worked.soundings.table["peg"].iloc[row])


def test_the_peg_page_says_where_there_is_weed(worked):
    peg = peg_of(worked, WEED)
    facts = peg_facts(worked, peg)
    ((stop, angle, far),) = facts.stops
    row = worked.soundings.table.iloc[WEED]
    straight = peg.facing_deg
    assert (stop, far) == ("weed", row["distance_m"])
    # The venue's grid is turned against true north by less than a degree and a half.
    assert angle == pytest.approx((row["radial_deg"] - straight + 180) % 360 - 180, abs=1.5)
    words = bottom_words(catalogue_of(worked.venue), facts)
    assert words.startswith("silt (")
    assert f"weed at {words.split('weed at ')[1]}" in words
    assert f"{far:.1f} m" in words
    assert peg_data(worked, peg)["stops"] == stop_words(catalogue_of(worked.venue), facts.stops)


def test_of_many_stops_the_nearest_are_told(worked):
    said = catalogue_of(worked.venue)
    words = stop_words(said, tuple(("snag", 0.0, float(k)) for k in range(1, 10)))
    assert words.count("snag at") == 6
    assert words.endswith("and 3 more.")
    assert stop_words(said, ()) == ""


def test_weed_by_a_spot_stands_with_the_spot(worked):
    here = worked.soundings.table.geometry.iloc[WEED]
    spot = replace(worked.spots[0], easting=here.x, northing=here.y)
    assert bottom_near(worked, spot) == "silt"
    bare = worked.soundings.table.assign(bottom="")
    assert bottom_near(replace(worked, soundings=Soundings(bare)), spot) == "weed"


def test_weed_of_before_the_bed_was_changed_is_not_told(worked):
    table = worked.soundings.table.copy()
    table.loc[WEED, "new_from"] = "2026-06-01"
    assert peg_facts(replace(worked, soundings=Soundings(table)), peg_of(worked, WEED)).stops == ()


def test_where_readings_are_hidden_the_weed_is_too(worked):
    hidden = replace(publishing(worked, hides_readings=True), readings_shown=False)
    assert peg_facts(hidden, peg_of(worked, WEED)).stops == ()


def test_the_map_is_handed_what_is_past_and_what_stopped_the_plummet(worked):
    rows = [dict(zip(READING_COLUMNS, row, strict=True)) for row in _readings(worked)["rows"]]
    assert (rows[WEED]["kind"], rows[WEED]["stopped_by"], rows[WEED]["depth_m"]) == ("none", "weed", None)
    assert (rows[PAST]["new_from"], rows[PAST]["used"]) == ("20 May 2026", False)
    assert not any(row["new_from"] or row["stopped_by"] for k, row in enumerate(rows) if k not in {WEED, PAST})
    assert [k for k, row in enumerate(rows) if row["changed"]] == [CHANGED]


def test_the_geopackage_has_their_state(worked, tmp_path):
    write_geopackage(tmp_path / "venue.gpkg", worked, (), about_tags(worked))
    layer = pyogrio.read_dataframe(tmp_path / "venue.gpkg", layer="readings")
    assert (layer["state"].iloc[PAST], layer["new_from"].iloc[PAST]) == ("past", "2026-05-20")
    assert (layer["state"].iloc[WEED], layer["stopped_by"].iloc[WEED]) == ("not used", "weed")
    assert (layer["state"] == "used").sum() == worked.soundings.table["use"].sum()
