"""A keystroke changes what follows from it, and touches nothing else on the page."""

from __future__ import annotations

import pytest

from tests.made.browser import ask

WATCH = """() => {
  window.touched = [];
  const told = ({ target, type }) => {
    const element = target.nodeType === 1 ? target : target.parentElement;
    const parents = [];
    for (let at = element; at; at = at.parentElement) if (at.id) parents.push(at.id);
    return { parents, what: `${type} ${element.tagName}`, cell: Boolean(element.closest("#peg td")) };
  };
  window.watcher = new MutationObserver((records) => window.touched.push(...records.map(told)));
  const all = { subtree: true, childList: true, attributes: true, characterData: true };
  window.watcher.observe(document.documentElement, all);
}"""
TOUCHED = "() => { window.watcher.disconnect(); return window.touched }"
ANSWER = {"answer", "more", "rigging", "profile"}


def everything_open(page) -> None:
    """A question from a chosen peg, a plumb in the list, a line drawn, readings on the chart, every fold open."""
    ask(page, rig="fast-sinking", mark="3 No 4")
    page.locator("#float").select_option(label="My own")
    for fold in ("#plumb-fold", "#tackle-fold", "#wind-fold", "#along-fold", "#line-fold"):
        page.locator(fold).evaluate("fold => { fold.open = true }")
    page.locator("#plumb-set").fill("8 ft 6")
    page.locator("#plumb-form button").click()
    assert page.locator("#plumb-list li").count() == 1
    page.locator("#layers").evaluate("fold => { fold.open = true }")
    page.locator("#layer-readings").check()
    page.locator("#line-from").select_option(index=1)
    page.locator("#line-to").select_option(index=2)
    assert page.locator("#peg td").count() > 3


def typed_into(page, field: str, words: str) -> list[dict]:
    """What is touched while somebody types over what stands in a field, key by key."""
    page.locator(field).focus()
    page.locator(field).select_text()
    page.evaluate(WATCH)
    page.locator(field).press_sequentially(words)
    return page.evaluate(TOUCHED)


# Words of which every beginning can be read: what cannot be read withdraws the answer, and with it the cast.
@pytest.mark.parametrize(
    ("field", "words", "note"),
    [("#own-length", "11½", "own-note"), ("#own-tip", "1.5", "own-note"), ("#hook-length", "7", "tackle-note"),
     ("#bait", "½", "tackle-note"), ("#rod-length", "30", "tackle-note")],
)  # fmt: skip
def test_typing_touches_the_answer_and_the_field_s_own_fault_alone(opened, field, words, note):
    page = opened()
    everything_open(page)
    own = {*ANSWER, note, field[1:]}
    touched = typed_into(page, field, words)
    assert any("answer" in one["parents"] for one in touched), "the answer follows"
    beside = [one for one in touched if not own & set(one["parents"])]
    # The card of the chosen peg has the settings of its spots: these cells follow, and nothing else of it.
    assert [one for one in beside if not one["cell"]] == []


def test_a_bad_length_of_a_float_is_told_once_and_at_the_field(opened):
    page = opened()
    everything_open(page)
    touched = typed_into(page, "#own-length", "far")
    assert page.locator("#own-note").inner_text() != ""
    assert sum("own-note" in one["parents"] for one in touched) == 1
    beside = [one["parents"] for one in touched if not {*ANSWER, "own-note", "plumb", "peg"} & set(one["parents"])]
    assert {parents[0] for parents in beside} <= {"print-chart", "venue-map"}, "the cast is taken away"


def test_a_level_leaves_chart_fan_and_form_as_they_stand(opened):
    page = opened()
    everything_open(page)
    touched = typed_into(page, "#level", "0.31")
    follow = {*ANSWER, "level", "level-note", "plumb", "line", "peg"}
    beside = [one for one in touched if not follow & set(one["parents"])]
    # The line that was drawn is drawn again on the map, with its ends.
    assert {one["parents"][0] for one in beside} <= {"venue-map"}
    assert len(beside) < 60
