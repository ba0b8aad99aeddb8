"""What a page is told of the survey."""

from dataclasses import replace

from maps.page.data import _findings
from survey.errors import SourceRow
from survey.findings import Finding, Grade
from tests.made.survey import made_survey


def test_a_finding_about_a_reading_bears_its_tag_and_the_page_says_how_to_answer():
    worked = made_survey()
    place = SourceRow("readings.csv", 7)
    tagged = Finding(Grade.WARNING, "misfit", place, "it does not fit", tag="K7MD-4PX4")
    told = _findings(replace(worked, findings=(tagged,)))
    assert told["told"] == ["readings.csv, row 7 [K7MD-4PX4]: it does not fit."]
    assert "Everything else there is optional" in told["answer"]
    assert _findings(replace(worked, findings=(replace(tagged, tag=""),)))["answer"] == ""
