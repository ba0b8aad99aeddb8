"""The club's own picture under the map: placed to the metre, washed, refused where its place is not known."""

from __future__ import annotations

import base64

import numpy as np
import pytest
import rasterio
from rasterio.io import MemoryFile
from rasterio.warp import transform

from maps.drawing.backdrop import MERCATOR, backdrop_of
from maps.drawing.colours import PAPER, rgb
from maps.drawing.projection import mercator
from maps.page.map_page import page_html
from survey.errors import SurveyError
from tests.made.survey import CRS, EAST, NORTH, made_survey, made_venue

SIDE_M, PIXELS = 300.0, 600
MARK = (EAST + 50.0, NORTH + 70.0)


def picture() -> np.ndarray:
    """Mid grey, with a red square of 10 m whose middle is the mark."""
    bands = np.full((3, PIXELS, PIXELS), 128, np.uint8)
    column, row = ((MARK[0] - EAST + SIDE_M / 2) * 2, (NORTH + SIDE_M / 2 - MARK[1]) * 2)
    square = (slice(int(row) - 10, int(row) + 10), slice(int(column) - 10, int(column) + 10))
    bands[(0, *square)], bands[(1, *square)], bands[(2, *square)] = 230, 0, 0
    return bands


def write(path, *, placed=True, dtype="uint8"):
    half = SIDE_M / 2
    pixel = SIDE_M / PIXELS
    where = rasterio.Affine(pixel, 0.0, EAST - half, 0.0, -pixel, NORTH + half)
    kind = {".tif": "GTiff", ".png": "PNG"}[path.suffix]
    given = {"crs": CRS, "transform": where} if placed else {}
    with rasterio.open(path, "w", driver=kind, width=PIXELS, height=PIXELS, count=3, dtype=dtype, **given) as out:
        out.write(picture().astype(dtype))
    return where


def shown(backdrop) -> tuple[np.ndarray, tuple[float, float, float, float]]:
    """Colours of the warped picture, and its bounds in Web Mercator."""
    with MemoryFile(base64.b64decode(backdrop.source.split(",")[1])) as memory, memory.open() as jpeg:
        colours = jpeg.read().astype(int)
    (south, west), (north, east) = backdrop.corners
    (x0, x1), (y0, y1) = mercator([west, east], [south, north])
    return colours, (x0, y0, x1, y1)


def red_middle(backdrop) -> tuple[float, float]:
    colours, (x0, _, x1, y1) = shown(backdrop)
    pixel = (x1 - x0) / colours.shape[2]
    rows, columns = np.nonzero(colours[0] - colours[1] > 90)
    return x0 + (columns.mean() + 0.5) * pixel, y1 - (rows.mean() + 0.5) * pixel


pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")


def test_a_geotiff_lies_where_it_belongs(tmp_path):
    write(tmp_path / "background.tif")
    xs, ys = transform(CRS, MERCATOR, [MARK[0]], [MARK[1]])
    x, y = red_middle(backdrop_of(tmp_path, made_venue()))
    assert np.hypot(x - xs[0], y - ys[0]) < 1.0


def test_a_picture_with_a_world_file_is_taken_in_the_venue_s_grid(tmp_path):
    where = write(tmp_path / "Background.png", placed=False)
    lines = (where.a, 0, 0, where.e, where.c + where.a / 2, where.f + where.e / 2)
    (tmp_path / "Background.pgw").write_text("\n".join(f"{v:.6f}" for v in lines), encoding="ascii")
    xs, ys = transform(CRS, MERCATOR, [MARK[0]], [MARK[1]])
    x, y = red_middle(backdrop_of(tmp_path, made_venue()))
    assert np.hypot(x - xs[0], y - ys[0]) < 1.0


def test_it_is_washed_with_paper_so_that_names_stand_out(tmp_path):
    write(tmp_path / "background.tif")
    colours, _ = shown(backdrop_of(tmp_path, made_venue()))
    grey = np.median(colours.reshape(3, -1), axis=1)
    assert grey == pytest.approx([0.65 * 128 + 0.35 * v for v in rgb(PAPER)], abs=3)


def test_a_picture_without_a_place_is_refused_with_what_to_do(tmp_path):
    write(tmp_path / "background.png", placed=False)
    with pytest.raises(SurveyError, match=r"background\.png: where the picture lies is not known.*background\.pgw"):
        backdrop_of(tmp_path, made_venue())


def test_what_cannot_lie_under_the_map_is_named(tmp_path):
    assert backdrop_of(tmp_path, made_venue()) is None
    (tmp_path / "background.jpg").write_bytes(b"no picture")
    with pytest.raises(SurveyError, match=r"background\.jpg: not a picture"):
        backdrop_of(tmp_path, made_venue())
    write(tmp_path / "background.tif", dtype="uint16")
    with pytest.raises(SurveyError, match="Keep one"):
        backdrop_of(tmp_path, made_venue())
    (tmp_path / "background.jpg").unlink()
    with pytest.raises(SurveyError, match="eight bits"):
        backdrop_of(tmp_path, made_venue())


def test_the_page_has_it_as_a_layer_that_can_be_taken_away(tmp_path, opened):
    write(tmp_path / "background.tif")
    text = page_html(made_survey(cell_m=2.0), backdrop=backdrop_of(tmp_path, made_venue()))
    (tmp_path / "map.html").write_text(text, encoding="utf-8")
    page = opened(path=tmp_path / "map.html")
    pane = ".leaflet-backdrop-pane img"
    assert page.locator(pane).count() == 1
    page.locator("#layers summary").click()
    page.locator("#layer-backdrop").uncheck()
    assert page.locator(pane).count() == 0
