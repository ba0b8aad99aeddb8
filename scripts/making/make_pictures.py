"""Takes the pictures in the documents from the built demo, in a real browser and from the printed guide.

scripts/demo && .venv/bin/python -m scripts.making.make_pictures
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
ASKED = {"peg": "12", "clock": "12:30", "distance_m": 20, "level": 0.7}
SIZES = {"phone": (390, 844), "desk": (1280, 800)}


CARD_PAGE = 7
"""The sheet of the guide with pegs 11 and 12."""


def main() -> None:
    """Write ``map-phone``, ``map-desk``, ``peg-phone`` and ``guide-card`` into ``data/pictures``."""
    page_file = ROOT / "out" / "demo" / "map.html"
    if not page_file.exists():
        sys.exit(f"{page_file} is not there. Run scripts/demo first.")
    pictures = ROOT / "data" / "pictures"
    pictures.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        site = Path(folder) / "site"
        publish = [sys.executable, "-m", "maps", "publish", ROOT / "data" / "sallowby-pit", "--out", site]
        subprocess.run(publish, cwd=ROOT, check=True)  # noqa: S603 - our own command
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for name, size in SIZES.items():
            asked = ASKED if name == "phone" else None
            _take(browser, page_file, size, pictures / f"map-{name}.png", asked)
        _take(browser, site / "pegs" / "peg-12.html", (390, 1180), pictures / "peg-phone.png")
        browser.close()
        one = ["-f", str(CARD_PAGE), "-l", str(CARD_PAGE), "-singlefile"]
        card = ["pdftoppm", "-r", "90", "-png", *one, site / "guide.pdf", pictures / "guide-card"]
        subprocess.run(card, check=True)  # noqa: S603 - our own file


def _take(browser: Browser, file: Path, size: tuple[int, int], picture: Path, asked: dict | None = None) -> None:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    page.goto(file.as_uri())
    page.wait_for_function("() => window.lakeplumb && window.lakeplumb.ready.then(() => true)")
    if asked:
        page.evaluate("asked => window.lakeplumb.ask(asked)", asked)
    page.wait_for_timeout(800)
    page.screenshot(path=picture)
    page.close()


if __name__ == "__main__":
    main()
