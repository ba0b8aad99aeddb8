"""Bank sheet and instructions as PDF: pages to print and take along. Knows nothing of a survey."""

from __future__ import annotations

from pathlib import Path

import typst

TEMPLATES = Path(__file__).parent


def printed(page: str, name: str) -> bytes:
    """A page to print as tagged PDF: the same bytes for the same name, on any machine.

    Parameters
    ----------
    page : {"bank-sheet", "taking-readings"}
    name : str
        Name of the water; shown, never run. Letters that typst's own fonts lack are looked for
        among the machine's, and the page is then neither checked for PDF/UA nor the same everywhere.
    """
    source, inputs = TEMPLATES / f"{page}.typ", {"venue": name}
    try:
        return typst.compile(source, sys_inputs=inputs, ignore_system_fonts=True, pdf_standards=["ua-1"])
    except typst.TypstError:
        return typst.compile(source, sys_inputs=inputs)
