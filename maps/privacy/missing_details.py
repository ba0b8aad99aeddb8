"""What a published copy would be better with, and the line of ``venue.toml`` that gives it.

Knows nothing of pages and files.
"""

from __future__ import annotations

from survey.records.venue import Venue


def missing_details(venue: Venue) -> dict[str, str]:
    """Keys of ``venue.toml`` that nothing stands under: what is missed without, and what to write.

    A copy without its place is not asked for what would give the place away or could not be used.
    """
    publishing = venue.publishing
    shares_readings = not (publishing.hides_readings or publishing.hides_place)
    asked = {
        "emergency": (
            venue.emergency or publishing.hides_place,
            'where to send help: emergency = "The gate on ..., grid reference ..."',
        ),
        "licence": (venue.licence, 'whether others may copy it: licence = "CC BY 4.0"'),
        "credit": (venue.credit, 'who made it: credit = "Surveyed by the members"'),
        "[publish] address": (
            publishing.address,
            'codes on the cards that lead to each peg: address = "https://example.org/our-lake/", under [publish]',
        ),
        "[publish] contact": (
            publishing.contact or not shares_readings,
            'readings to share, and who answers for them: contact = "secretary@example.org", under [publish]',
        ),
    }
    return {key: words for key, (given, words) in asked.items() if not given}
