"""How much there is to read: what is shown at once, on opening and with an answer, on a wide screen."""

from __future__ import annotations

from tests.made.browser import ask

MOST_UNASKED, MOST_ANSWERED = 300, 570
"""Words beside the map of the made lake. More is for a fold, or says again what a label says."""


def words_beside_the_map(page) -> list[str]:
    return page.locator(".desk").inner_text().split()


def test_there_is_little_to_read_before_a_spot_is_chosen(opened):
    assert len(words_beside_the_map(opened())) <= MOST_UNASKED


def test_an_answer_is_short_and_keeps_setting_range_error_and_caution(opened):
    page = opened()
    ask(page, mark="3 No 4")
    words = words_beside_the_map(page)
    assert len(words) <= MOST_ANSWERED
    said = " ".join(words)
    for kept in ("Expect", "95 % of casts", "± ", "Plumb before you fish.", "Water today", "Margin not measured."):
        assert kept in said


def test_cautions_stand_open(opened):
    page = opened()
    assert page.locator(".safety details").count() == 0
    assert page.locator(".safety li").count() >= 6
    assert all(line.is_visible() for line in page.locator(".safety li").all())


def test_a_fold_of_the_rig_stays_open_while_the_answer_changes(opened):
    page = opened()
    ask(page, mark="3 No 4")
    page.locator("#rigging summary").click()
    page.locator("#level").fill("0.31")
    assert page.locator("#rigging details p").first.is_visible()
