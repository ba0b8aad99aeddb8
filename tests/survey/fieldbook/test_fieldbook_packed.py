"""What is known of a workbook's sheets before any is laid out."""

import io
import zipfile

import openpyxl
import pytest

from survey.fieldbook import packed


@pytest.fixture(scope="module")
def sheet() -> bytes:
    """A workbook whose furthest cell is AB40, with formulas nobody worked out in B3 and C7."""
    book = openpyxl.Workbook()
    for row in range(1, 40):
        book.active.cell(row, 1 + row % 7, row / 8)
    book.active["B3"], book.active["C7"], book.active["AB40"] = "=1+1", "=A1*2", "last"
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def facts(data: bytes) -> packed.SheetFacts:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        ((_, part),) = packed._xlsx_sheets(archive)
        return packed._of_xlsx_sheet(archive, part)


def test_the_furthest_cell_and_formulas_without_a_value_are_found(sheet):
    found = facts(sheet)
    assert (found.height, found.width) == (40, 28)
    assert found.unworked == {(3, 2), (7, 3)}


@pytest.mark.parametrize("size", range(80, 120))
def test_a_cell_that_stands_across_two_pieces_of_a_sheet_is_seen(sheet, size, monkeypatch):
    monkeypatch.setattr(packed, "CHUNK", size)
    assert (facts(sheet).height, facts(sheet).width) == (40, 28)
    assert facts(sheet).unworked == {(3, 2), (7, 3)}


@pytest.mark.parametrize(("written", "times"), [("3", 3), ("", 1), ("x", 1), ("-2", 1), ("9999999999", 1)])
def test_a_cell_repeated_by_no_sensible_number_of_times_counts_once(written, times):
    assert packed._times({f"{packed._TABLE}number-columns-repeated"[1:]: written}, "number-columns-repeated") == times
    assert packed._times({}, "number-columns-repeated") == 1
