"""Text files that cannot be split into cells are refused with their row."""

from __future__ import annotations

import pytest

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook


@pytest.mark.parametrize(
    ("rows", "row"),
    [('1,0,20,1.4,"soft"y,2026-05-03\n', 3), ('1,0,20,1.4,"soft,2026-05-03\n', 3), ('"1"x,0,20,1.4,,\n', 3)],
    ids=["text after a quotation mark", "never closed", "in the first cell"],
)
def test_a_quotation_mark_out_of_place_is_named_by_its_row(folder, rows, row):
    head = "peg,angle,distance (m),depth (m),note,date\n1,0,15,1.2,,2026-05-03\n"
    with pytest.raises(FieldbookError) as refused:
        read_fieldbook(folder(readings__csv=head + rows))
    assert f"readings.csv, row {row}: the row cannot be split into cells" in str(refused.value)
    assert "opened and not closed" in str(refused.value)
