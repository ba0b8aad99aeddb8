"""``lakeplumb wind``: ranks pegs by shelter in today's wind."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from maps.cli.console import AsJson, VenueFolder, print_answer, print_json, refusals
from maps.cli.venues import open_venue
from maps.replies.options import option
from maps.replies.rig_text import drift_words, fine, table_lines
from survey.records.venue import Venue
from survey.tackle.wind import RETURN_FLOW, SIDE_WORDS, Shelter, Wind, drift_per_minute, over_depth, pegs_by_shelter
from survey.units.wind_speeds import compass_point, read_compass, read_wind_speed


def wind(
    venue: VenueFolder,
    speed: Annotated[str, typer.Option(metavar="S", help='Wind speed with its unit: "5 m/s", "12 mph", "10 kn".')],
    from_: Annotated[str, typer.Option("--from", metavar="D", help="Where it blows from: SW, or degrees from north.")],
    as_json: AsJson = False,
) -> None:
    """Rank pegs by shelter from today's wind, and show how a float will drift."""
    with refusals(as_json=as_json):
        blows = Wind(option("--speed", speed, read_wind_speed), option("--from", from_, read_compass))
        lake = open_venue(venue).venue
        pegs = pegs_by_shelter(lake, blows.from_deg)
        if as_json:
            print_json(_json(lake, blows, pegs))
        else:
            print_answer(*_told(lake, blows, pegs, speed))


def _told(lake: Venue, blows: Wind, pegs: tuple[Shelter, ...], typed: str) -> tuple[str, list[str]]:
    low, high = (fine(over, lake.shows) for over in over_depth(blows.speed_ms))
    metric = f"{blows.speed_ms:.1f} m/s"
    blowing = metric if "/" in typed else f"{typed.strip()} ({metric})"
    first = pegs[0].peg.name if pegs else "none"
    rows = [("Peg", "Fetch", "Wind, casting straight out"), *(_row(lake, shelter) for shelter in pegs)]
    return (
        f"{lake.name}, {blowing} from {compass_point(blows.from_deg)}: peg {first} is most sheltered.",
        [
            f"A free float drifts {drift_words(*drift_per_minute(blows.speed_ms), lake)}. {RETURN_FLOW}",
            f"To hold it, lay {low} to {high} of line on the bottom, in more than three feet of water.",
            "",
            *table_lines(rows),
        ],
    )


def _row(lake: Venue, shelter: Shelter) -> tuple[str, str, str]:
    fetch = "not known" if shelter.fetch_m is None else lake.spans.whole(shelter.fetch_m)
    return shelter.peg.name, fetch, SIDE_WORDS[shelter.side]


def _json(lake: Venue, blows: Wind, pegs: tuple[Shelter, ...]) -> dict[str, Any]:
    return {
        "venue": lake.name,
        "speed_ms": round(blows.speed_ms, 3),
        "from_deg": blows.from_deg,
        "drift_m_per_min": [round(drift, 2) for drift in drift_per_minute(blows.speed_ms)],
        "pegs": [
            {
                "peg": shelter.peg.name,
                "fetch_m": None if shelter.fetch_m is None else round(shelter.fetch_m, 1),
                "side": shelter.side,
            }
            for shelter in pegs
        ],
    }
