"""Takes the pictures in the README from the built demo, in a real browser: the lake on a desk, an answer on a phone.

scripts/demo && .venv/bin/python scripts/make_pictures.py
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parent.parent
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
ASKED = {"peg": "12", "clock": "12:30", "distance_m": 20, "level": 0.7}
SIZES = {"phone": (390, 844), "desk": (1280, 800)}


def main() -> None:
    """Write ``data/pictures/map-phone.png`` and ``map-desk.png``."""
    page_file = ROOT / "out" / "demo" / "map.html"
    if not page_file.exists():
        sys.exit(f"{page_file} is not there. Run scripts/demo first.")
    pictures = ROOT / "data" / "pictures"
    pictures.mkdir(exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for name, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(page_file.as_uri())
            page.wait_for_function("() => Boolean(window.lakeplumb && window.lakeplumb.ask)")
            if name == "phone":
                page.evaluate("asked => window.lakeplumb.ask(asked)", ASKED)
            page.wait_for_timeout(800)
            page.screenshot(path=pictures / f"map-{name}.png")
        browser.close()


if __name__ == "__main__":
    main()
