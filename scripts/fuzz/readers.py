"""Give the readers anything at all: each input is read or refused in words, fast, and no row is lost.

    .venv/bin/python -m scripts.fuzz.readers [--inputs 100000] [--seed 1]

Inputs are drawn by hypothesis (sheets of likely and unlikely cells, bytes, JSON, TOML) and by breaking
sound files: bits turned over, pieces cut out, doubled or put in. The first input that goes wrong is written out
and ends the run.
"""

from __future__ import annotations

import argparse
import base64
import csv
import io
import random
import signal
import sys
import tempfile
import time
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import openpyxl
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st

from survey.errors import FieldbookError
from survey.fieldbook import read_fieldbook
from survey.findings import Grade

SLOW_S = 10
OUTLINE = (
    '{"type":"Polygon","coordinates":[[[-2.3118210,54.1011979],[-2.3087627,54.1011803],[-2.3087448,54.1022588],'
    "[-2.3118032,54.1022763],[-2.3118210,54.1011979]]]}"
)
PEGS = "peg,lon,lat,facing,aliases\n1,-2.3118121,54.1017371,90,Stump\n2,-2.3118195,54.1013,90,\n"
READINGS = (
    "peg,clock,distance (m),depth,setting (ft),float,seen,date,time,peg2,clock2,use,note\n"
    "1,12,20,1.4 m,,,,2026-05-03,10:15,,,,\n2,11:30,15,,5 ft 2,W,stands,2026-05-03,,,,no,snag\n1,1,,0.9 m,,,,,,2,11,,\n"
)
VENUE = 'name = "Q"\ndates = "dmy"\n[units]\nstick_spacing = "12 ft"\n[floats.W]\nlength = "10 in"\ntip = "1 in"\n'
SOUND: dict[str, str | bytes] = {
    "venue.toml": VENUE,
    "outline.geojson": OUTLINE,
    "pegs.csv": PEGS,
    "readings.csv": READINGS,
    "levels.csv": "date,level (m)\n2026-05-03,0.4\n",
    "decisions.csv": "code,tag,row,decision\nmisfit,K7MD-4PX4,2,keep\nmisfit,,2,keep\n",
    "edges.gpx": '<gpx><trk><name>low</name><trkseg><trkpt lat="54.1014" lon="-2.3117"><time>2026-05-03T10:00Z</time>'
    '</trkpt><trkpt lat="54.1018" lon="-2.3117"/></trkseg></trk></gpx>',
}
LIKELY = (
    "|1|2|Stump|12|12:30|half one|1,4|1.4 m|5'2\"|5′ 2½″|-3|–|Mean|NA|007|03/05/2026|20/10/2026|46207|0.5208333|"
    "6 wraps|#REF!|=1+1|sunk|W|1e9|٣|²"
)
CELLS = st.one_of(
    st.sampled_from(LIKELY.split("|")),
    st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=12),
    st.floats().map(str),
)
HEAD = READINGS.split("\n", maxsplit=1)[0].split(",")
HEADS = st.one_of(
    st.just(HEAD),
    st.permutations(HEAD),
    st.lists(st.sampled_from([*HEAD, "bearing", "north", "lat", "lon", "angle", "Tiefe", ""]), min_size=1, max_size=12),
)


def _as_text(rows: list[list[str]], separator: str, encoding: str) -> bytes:
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator).writerows(rows)
    return stream.getvalue().encode(encoding, errors="replace")


def _as_workbook(rows: list[list[str]]) -> bytes:
    book, stream = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(["".join(c for c in cell if c.isprintable()) for cell in row])
    book.save(stream)
    return stream.getvalue()


SHEETS = st.builds(lambda head, rows: [head, *rows], HEADS, st.lists(st.lists(CELLS, max_size=12), max_size=8))
SEPARATORS, ENCODINGS = st.sampled_from(",;\t|"), st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])
TEXTS = st.builds(_as_text, SHEETS, SEPARATORS, ENCODINGS)
BOOKS = st.builds(_as_workbook, SHEETS)
JSONS = st.recursive(
    st.one_of(st.none(), st.floats(), st.integers(), st.text(max_size=6)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=5),
        st.dictionaries(
            st.sampled_from(["type", "features", "geometry", "coordinates", "properties", "crs", "name"]), inner
        ),
    ),
    max_leaves=25,
).map(lambda found: repr(found).replace("'", '"').replace("None", "null"))


def _packed() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("doc.kml", "<kml><Placemark><Polygon/></Placemark></kml>")
    return stream.getvalue()


BASES: dict[str, bytes] = {
    **{name: text.encode() if isinstance(text, str) else text for name, text in SOUND.items()},
    "readings.xlsx": _as_workbook([line.split(",") for line in READINGS.splitlines()]),
    "outline.kmz": _packed(),
    "outline.kml": b"<kml><Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>"
    b"-2.3118,54.1012 -2.3087,54.1012 -2.3087,54.1023"
    b"</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>",
    "outline.gpx": b'<gpx><trk><trkseg><trkpt lat="54.1012" lon="-2.3118"/><trkpt lat="54.1012" lon="-2.3087"/>'
    b'<trkpt lat="54.1023" lon="-2.3087"/><trkpt lat="54.1012" lon="-2.3118"/></trkseg></trk></gpx>',
    "pegs.gpx": b'<gpx><wpt lat="54.1017371" lon="-2.3118121"><name>1</name></wpt></gpx>',
}


def broken(rng: random.Random) -> tuple[str, bytes]:
    """A sound file with a few wounds."""
    name = rng.choice(sorted(BASES))
    data = bytearray(BASES[name])
    for _ in range(rng.choice((1, 1, 2, 3))):
        at, size = rng.randrange(len(data) + 1), rng.randint(1, 12)
        wound = rng.randrange(5)
        if wound == 0 and data:
            data[at % len(data)] ^= 1 << rng.randrange(8)
        elif wound == 1:
            del data[at : at + size]
        elif wound == 2:
            data[at:at] = data[at : at + size]
        elif wound == 3:
            data[at:at] = rng.choice([b"\0", b"\xff", b'"', b"<", b"999999999999", b"-1e308", b"nan", b"\xef\xbb\xbf"])
        else:
            data[at : at + size] = bytes(rng.randrange(256) for _ in range(size))
    return name, bytes(data)


@contextmanager
def _watched() -> Iterator[None]:
    def too_slow(*_: object) -> None:
        raise TimeoutError(f"over {SLOW_S} s")

    # Time of this process alone: a busy machine is slow, not wrong.
    before = signal.signal(signal.SIGVTALRM, too_slow)
    signal.setitimer(signal.ITIMER_VIRTUAL, SLOW_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


class Readers:
    """One folder, written over and over, and what came of each input."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ends: Counter[str] = Counter()
        self.slowest_s = 0.0

    def give(self, name: str, data: bytes) -> None:
        """Read the sound venue with one file replaced.

        Raises
        ------
        AssertionError
            If a row was lost, or a refusal says nothing.
        """
        stem = Path(name).stem
        for old in self.folder.iterdir():
            old.unlink()
        for sound, text in SOUND.items():
            if Path(sound).stem != stem:
                (self.folder / sound).write_bytes(text.encode() if isinstance(text, str) else text)
        (self.folder / name).write_bytes(data)
        start = time.process_time()
        with _watched(), warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                book = read_fieldbook(self.folder)
            except FieldbookError as refused:
                if not refused.faults or not str(refused).strip():
                    raise AssertionError("refused without a word") from refused
                self.ends["refused"] += 1
            else:
                told = {where for f in book.findings if f.grade is Grade.ERROR for where in f.row_places}
                rejected = told & {(p.file, p.row) for p in book.row_places}
                if len(book.readings) + len(rejected) != book.rows:
                    raise AssertionError(f"{book.rows} rows, {len(book.readings)} read, {len(rejected)} told of")
                self.ends["read"] += 1
        self.slowest_s = max(self.slowest_s, time.process_time() - start)


def _drawn(readers: Readers, count: int, seed: int, name: str, data: st.SearchStrategy[bytes]) -> None:
    checks = list(HealthCheck)
    phases = (Phase.generate,)

    @seeded(seed)
    @settings(max_examples=count, deadline=None, suppress_health_check=checks, phases=phases, database=None)
    @given(data)
    def draw(given_data: bytes) -> None:
        _tried(readers, name, given_data)

    draw()


def _tried(readers: Readers, name: str, data: bytes) -> None:
    try:
        readers.give(name, data)
    except BaseException as trouble:
        print(f"{name}: {type(trouble).__name__}: {trouble}\n{base64.b64encode(data).decode()}", file=sys.stderr)
        raise


def fuzz(inputs: int, seed: int, told: Callable[[str], None] = print) -> Readers:
    """Give the readers so many inputs.

    Returns
    -------
    Readers
        With what came of them.
    """
    with tempfile.TemporaryDirectory() as folder:
        readers = Readers(Path(folder))
        shares = {
            "readings.csv": (0.4, TEXTS),
            "levels.csv": (0.05, TEXTS),
            "decisions.csv": (0.05, TEXTS),
            "readings.xlsx": (0.05, BOOKS),
            "outline.geojson": (0.05, JSONS.map(str.encode)),
            "outline.kml": (0.02, st.binary(max_size=300)),
            "venue.toml": (0.03, st.text(max_size=60).map(str.encode)),
        }
        for name, (share, data) in shares.items():
            _drawn(readers, max(1, int(inputs * share)), seed, name, data)
            told(f"{name}: {dict(readers.ends)}, slowest {readers.slowest_s:.2f} s")
        rng = random.Random(seed)  # noqa: S311 - not for secrets
        while sum(readers.ends.values()) < inputs:
            _tried(readers, *broken(rng))
        told(f"broken files: {dict(readers.ends)}, slowest {readers.slowest_s:.2f} s")
    return readers


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    start = time.monotonic()
    readers = fuzz(asked.inputs, asked.seed)
    print(f"{sum(readers.ends.values())} inputs, {time.monotonic() - start:.0f} s, none lost, no traceback")
    return 0


if __name__ == "__main__":
    sys.exit(main())
