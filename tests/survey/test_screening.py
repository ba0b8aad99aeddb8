"""Which readings look mistaken at first: the worst near by, measured by how all of them misfit."""

from types import SimpleNamespace

import numpy as np
import pytest

from survey.screening import DOUBTFUL_Z, SCREEN_CLEAR_M, _worst, worst_about


def worst(misfit: np.ndarray, apart_m: float = 20.0) -> list[int]:
    """Rows that go first; readings stand in a line, each with a standard deviation of one."""
    n = len(misfit)
    found = SimpleNamespace(left_out=lambda _: (np.zeros(n), np.ones(n)), data=SimpleNamespace(values=misfit))
    places = SimpleNamespace(xy=np.column_stack([apart_m * np.arange(n), np.zeros(n)]))
    return _worst(found, SimpleNamespace(places=places), np.arange(n)).tolist()


@pytest.mark.parametrize(("off", "rows"), [(DOUBTFUL_Z - 0.1, []), (DOUBTFUL_Z + 0.1, [4]), (-DOUBTFUL_Z - 0.1, [4])])
def test_a_reading_further_off_than_that_goes(off, rows):
    assert worst(np.array([0.3, -0.5, 0.2, 0.1, off, -0.4, 0.6, -0.1])) == rows


def test_where_all_misfit_more_than_they_should_one_has_to_misfit_more_still():
    """A median misfit of 2 is that of errors three times as wide: 1.4826 of the median is a standard deviation."""
    all_alike = np.array([2.0, -2.0, 2.0, -2.0, 0.0, 2.0, -2.0, 2.0, -2.0])
    for off, rows in ((10.0, []), (11.0, [4])):
        misfit = all_alike.copy()
        misfit[4] = off
        assert worst(misfit) == rows


def test_of_two_that_stand_together_only_the_worse_goes_first():
    misfit = np.array([0.0, 0.1, 6.0, 5.0, 0.1, 0.0, 0.2, 0.1])
    assert worst(misfit, SCREEN_CLEAR_M / 2) == [2]
    assert worst(misfit, SCREEN_CLEAR_M * 2) == [2, 3]


def test_the_worst_near_by_are_those_without_a_worse_neighbour():
    xy = np.array([[0.0, 0.0], [1.0, 0.0], [100.0, 0.0]])
    assert worst_about(np.array([0, 1, 2]), np.array([4.0, 5.0, 4.0]), xy).tolist() == [False, True, True]
