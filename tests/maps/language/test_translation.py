"""A venue whose every text stands in brackets: what people read outside them was not taken from the list of words.

Outside may stand the club's own names and notes, numbers with their units, sizes of shot, and codes of findings.
"""

from __future__ import annotations

import json
import re
import subprocess
import xml.etree.ElementTree as ET
from typing import Any

import pytest

from maps.drawing.peg_fan import shortened
from maps.language.catalogue import english
from maps.privacy.public_copy import public_copy
from maps.site import publish
from tests.made.browser import DESK, PHONE, ask
from tests.made.survey import made_survey, publishing

UNITS = {"mph", "SSG", "AAA", "PDF", "deg"}
"""Words of three letters and more that are the same in every language: units, sizes of shot."""


def bracketed(value: Any) -> Any:
    if isinstance(value, str):
        return f"⟦{value}⟧"
    if isinstance(value, list):
        return [bracketed(item) for item in value]
    return {form: bracketed(text) for form, text in value.items()}


def speaking(worked, **more):
    """The survey of a venue with these words."""
    own = {key: bracketed(text) for key, text in english().items()} | {"language": "de", "decimal": ","} | more
    return publishing(worked, words=json.dumps(own))


@pytest.fixture(scope="module")
def bracket_survey():
    return speaking(made_survey(cell_m=2.0))


@pytest.fixture(scope="module")
def site(bracket_survey, tmp_path_factory):
    target = tmp_path_factory.mktemp("translated") / "pool"
    publish(bracket_survey, target)
    return target


@pytest.fixture(scope="module")
def own(bracket_survey) -> list[str]:
    """The club's own texts, the longest first, and codes of findings."""
    venue = bracket_survey.venue
    pegs = [text for peg in venue.pegs for text in (peg.name, peg.access, peg.status, peg.note, *peg.aliases)]
    found = [finding.problem for finding in public_copy(bracket_survey).findings]
    texts = [venue.name, venue.credit, venue.licence, venue.emergency, *venue.cautions, *venue.stated, *pegs, *found]
    texts += [shortened(peg.name) for peg in venue.pegs]
    texts += [text.rstrip(".") for text in texts] + [held.name for held in venue.floats]
    return sorted({text for text in texts if text} | {"silt"}, key=len, reverse=True)


def outside(text: str, own: list[str]) -> str:
    """What is left of a text without brackets and what they hold, and without the club's own."""
    for mine in own:
        text = re.sub(rf"(?<!\w){re.escape(mine)}(?!\w)", " ", text)
    while re.search(r"⟦[^⟦⟧]*⟧", text):
        text = re.sub(r"⟦[^⟦⟧]*⟧", " ", text)
    return text


def english_words(text: str, own: list[str]) -> list[str]:
    return [word for word in re.findall(r"[A-Za-z]{3,}", outside(text, own)) if word not in UNITS]


TEXTS_JS = """() => {
  const found = [document.title];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const tag = walk.currentNode.parentElement.closest('script, style, noscript');
    if (!tag) found.push(walk.currentNode.textContent);
  }
  for (const name of ['aria-label', 'title', 'alt'])
    for (const element of document.querySelectorAll(`[${name}]`)) found.push(element.getAttribute(name));
  return found;
}"""


def said_on(page) -> list[str]:
    return [text for text in page.evaluate(TEXTS_JS) if text.strip()]


def untranslated(page, own) -> list[str]:
    return [text for text in said_on(page) if english_words(text, own)]


TACKLE = {"mark": "3 No 4", "wind": {"speed_ms": 6, "from_deg": 225}}


@pytest.mark.parametrize("kind", [PHONE, DESK], ids=["phone", "desk"])
def test_the_map_speaks_no_english_of_its_own(site, opened, own, kind):
    page = opened(kind, site / "map.html")
    assert page.locator("html").get_attribute("lang") == "de"
    assert untranslated(page, own) == []
    ask(page, **TACKLE, level=0.3, tackle={"rod_length_m": 2.5})
    assert untranslated(page, own) == []
    page.locator("#plumb-fold > summary").click()
    for seen in ("sunk", "tip"):
        page.select_option("#plumb-seen", seen)
        page.fill("#plumb-set", "9 ft")
        page.locator("#plumb-form button").click()
        assert untranslated(page, own) == []
    page.fill("#plumb-tip", "1 in")
    page.locator("#plumb-form button").click()
    page.locator("#line-fold > summary").click()
    page.select_option("#line-from", "1")
    page.select_option("#line-to", "5")
    page.locator("#units label").nth(1).click()
    assert untranslated(page, own) == []
    assert any(re.search(r"\d,\d\d m", text) for text in said_on(page))
    assert not any(re.search(r"\d\.\d+ m\b", text) for text in said_on(page))


@pytest.mark.parametrize(
    "asked",
    [
        {"peg": "12", "distance_m": 0.5}, {"peg": "12", "distance_m": 60}, {"peg": "12", "distance_m": 300},
        {"peg": "8", "level": 1.9}, {"peg": "4", "float": None, "rig": "held"},
        {"peg": "4", "float": "Tip ruler", "rig": "fast-sinking", "mark": "2BB"}, {"peg": "4", "level": -3.5},
    ],
    ids=str,
)  # fmt: skip
def test_no_answer_speaks_english(site, opened, own, asked):
    page = opened(DESK, site / "map.html")
    ask(page, **asked)
    assert untranslated(page, own) == []


def test_the_page_of_a_peg_speaks_no_english_of_its_own(site, opened, own):
    for name in ("peg-12.html", "peg-8.html"):
        page = opened(PHONE, site / "pegs" / name)
        page.locator("#tackle-fold > summary").click()
        page.fill("#takes", "3 No 4")
        assert untranslated(page, own) == []


def test_pages_where_no_program_runs_speak_no_english(site, browser, own):
    context = browser.new_context(**PHONE, java_script_enabled=False)
    page = context.new_page()
    for file in (site / "index.html", site / "pegs" / "peg-12.html", site / "map.html"):
        page.goto(file.as_uri())
        text = page.inner_text("body")
        assert "⟦" in text
        assert [line for line in re.split(r"\n|\t", text) if english_words(line, own)] == []
    context.close()


def test_the_guide_speaks_no_english_of_its_own(site, own):
    told = subprocess.run(["pdftotext", "-raw", site / "guide.pdf", "-"], capture_output=True, check=True, text=True)
    text = " ".join(told.stdout.split())
    assert text.count("⟦") > 200
    assert english_words(text, own) == []
    info = subprocess.run(["pdfinfo", site / "guide.pdf"], capture_output=True, check=True, text=True).stdout
    assert "⟦" in info
    assert re.findall(rb"/Lang ?\((\w+)\)", (site / "guide.pdf").read_bytes()) == [b"de"]


@pytest.mark.parametrize("name", ["venue.kml", "spots.gpx"])
def test_comments_of_files_for_people_speak_no_english(site, own, name):
    root = ET.parse(site / "files" / name).getroot()  # noqa: S314 - our own file
    told = [e.text for e in root.iter() if e.tag.split("}")[1] in {"name", "description", "cmt", "desc"}]
    made_by = re.compile(r"⟦⟦Made by⟧: lakeplumb [\d.]+⟧|[0-9a-f]{64}")
    assert len(told) > 30
    assert [text for text in told if english_words(made_by.sub("", text), own)] == []


def test_the_search_finds_english_where_nothing_is_translated(worked, tmp_path, own, opened):
    publish(worked, tmp_path / "pool")
    page = opened(DESK, tmp_path / "pool" / "map.html")
    assert len(untranslated(page, own)) > 50


def test_cautions_stand_in_every_part_whatever_the_language(site, opened):
    cautions = [f"⟦{line}⟧" for line in english()["cautions"]]
    for path in (site / "map.html", site / "pegs" / "peg-12.html"):
        page = opened(DESK, path)
        assert [line for line in cautions if line not in page.locator(".safety").inner_text()] == []
    assert cautions[0] in (site / "files" / "venue.kml").read_text("utf-8")
    assert cautions[0] in (site / "files" / "spots.geojson").read_text("utf-8")
    told = subprocess.run(["pdftotext", "-raw", site / "guide.pdf", "-"], capture_output=True, check=True, text=True)
    assert cautions[0] in " ".join(told.stdout.split())
    assert f"⟦{english()['caution']}⟧" in " ".join(told.stdout.split())


def test_markup_in_a_clubs_words_stays_text(worked, tmp_path, opened):
    live = "<img src=x onerror=\"document.title='broken'\"><b>{peg}</b>"
    publish(speaking(worked, peg_title=live, safety="</script><i>Safe</i>"), tmp_path / "pool")
    for path in ("map.html", "pegs/peg-12.html"):
        page = opened(DESK, tmp_path / "pool" / path)
        ask(page) if path == "map.html" else None
        assert page.locator("img[src=x]").count() == 0
        assert page.locator(".safety h2").inner_text() == "</script><i>Safe</i>"
    ET.parse(tmp_path / "pool" / "files" / "venue.kml")  # noqa: S314 - our own file


def test_forms_by_number_are_chosen_by_the_page_too(worked, tmp_path, opened):
    """Polish (Unicode CLDR, plural rules): 1 one, 3 few, 5 many."""
    forms = {"one": "{count} raz", "few": "{count} razy", "many": "{count} wiele", "other": "{count} inne"}
    publish(speaking(worked, language="pl", fall=forms), tmp_path / "pool")
    page = opened(DESK, tmp_path / "pool" / "map.html")
    ask(page, mark="3 No 4")
    seconds = int(re.search(r"(\d+) (raz|razy|wiele)\b", page.locator("#rigging").inner_text())[1])
    word = re.search(r"\d+ (raz|razy|wiele)\b", page.locator("#rigging").inner_text())[1]
    few = seconds % 10 in (2, 3, 4) and seconds not in (12, 13, 14)
    assert word == ("raz" if seconds == 1 else "razy" if few else "wiele")


@pytest.mark.parametrize("code", ["pt-BR", "es-419", "zh-Hant-TW", "fil"])
def test_any_language_that_is_known_makes_pages_and_a_guide(worked, code, tmp_path):
    publish(speaking(worked, language=code), tmp_path / "pool")
    assert f'<html lang="{code}">' in (tmp_path / "pool" / "map.html").read_text("utf-8")
    assert (
        re.search(rb"/Lang ?\((\w+)", (tmp_path / "pool" / "guide.pdf").read_bytes())[1] == code.split("-")[0].encode()
    )
