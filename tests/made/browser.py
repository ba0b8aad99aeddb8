"""Sizes of screens, and what a person does on the page: ask, tap, and look at its markup."""

from __future__ import annotations

from html.parser import HTMLParser

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1440, "height": 900}}
CHROMIUM_FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
SHOWN_M = 0.37
"""What the made lake's dip shows on the page: five centimetres above the datum."""

ASK = {"peg": "12", "clock": "12:30", "distance_m": 14}


def ask(page, **asked):
    return page.evaluate("asked => window.lakeplumb.ask(asked)", {**ASK, **asked})


def tap_water(page, share_x=0.62, share_y=0.62):
    """Tap or click on the water by shares of the lake's own box on the screen."""
    box = page.evaluate(
        "() => { const b = map_1.getPane('shore').querySelector('path').getBoundingClientRect();"
        "return [b.x, b.y, b.width, b.height] }"
    )
    x, y = box[0] + share_x * box[2], box[1] + share_y * box[3]
    if page.evaluate("navigator.maxTouchPoints"):
        page.touchscreen.tap(x, y)
    else:
        page.mouse.click(x, y)


class Outline(HTMLParser):
    """Links, fields and their labels, as a parser of markup finds them."""

    def __init__(self):
        super().__init__()
        self.labels, self.fields, self.links = set(), set(), []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.links += [given[name] for name in ("src", "href", "xlink:href", "action") if name in given]
        if tag == "label":
            self.labels.add(given.get("for"))
        if tag in {"input", "select"}:
            self.fields.add(given["id"])
