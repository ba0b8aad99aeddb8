"""How much of the program could be changed without a test noticing: a seeded sample of small changes, each tried.

    .venv/bin/pip install "coverage>=7"
    .venv/bin/python scripts/mutate.py [--mutations 300] [--seed 1] [--jobs 1] [--tests 40]
        [--cover [TESTS ...]] [--again]

A change is one figure, comparison, sign or word (``scripts/mutation_sites.py``) in the modules of :data:`MODULES`.
It is made in a copy of the tree, never in the tree itself, and the tests that run the changed line are run, the
quickest first; one that fails, or takes too long, has noticed. Changes that no test notices, and those on lines that
no test runs, are listed at the end: write a test of what should have been noticed, unless the change is harmless (how
often a search goes round, the size of a chunk).

Which test runs which line is found out once and kept in ``out/mutations``; ``--cover tests/survey/test_shot.py`` finds
it out again for those tests. Results are kept there too, so that a run that was broken off goes on, and ``--again``
tries the survivors once more, best with more ``--tests``.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import geopandas  # noqa: F401  (loaded once for all forks)
import pandas as pd  # noqa: F401
import pytest
import scipy.optimize
import scipy.stats  # noqa: F401
from mutation_sites import Mutation, mutations_of, speakers
from threadpoolctl import threadpool_limits

MODULES = ("survey/**/*.py",)
WORDS_ONLY = ("errors.py", "findings.py", "causewords.py", "collector.py", "words.py", "headers.py")
"""Modules of wording and of speed: what they decide is not numbers."""
TESTS = ("survey", "tests/survey")
"""Tests of pages and commands are not asked: what is computed should be held where it is computed."""
QUICK_S = 20.0
"""More than ``--tests`` are asked as long as they take less than this together: where all tests run a line, which of
them looks at what it does is not known beforehand."""
MOST_OF_ONE = 3
"""Of a test that is run for many cases so many are asked about a change."""
PATIENCE, LEAST_S, WAIT = 4.0, 20.0, 10
"""A change that takes so many times longer than it should, and this over, of processor time, was noticed; on a busy
machine it may take so many times longer again."""
MOST_BYTES = 6 << 30
"""A change that asks for more memory than this fails."""
ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / "out" / "mutations"
LEFT_OUT = shutil.ignore_patterns(".*", "out", "build", "dist", "*.egg-info", "__pycache__", "node_modules")
WRITTEN = "LAKEPLUMB_COVERED"
"""Names the file that ``scripts/mutation_cover.py`` writes."""
SETTLED = {"CI": "1", "PYTHONDONTWRITEBYTECODE": "1"}
FORK = multiprocessing.get_context("fork")
OWN = ("mutate", "mutation_sites")
OWN_PATHS = {"", str(ROOT), str(ROOT / "scripts")}
PASSED, FAILED, NOT_FOUND = 0, 1, 4
"""What pytest returns; the last where a named test is not there: a change may have renamed cases of a test."""


@dataclass(frozen=True)
class Suite:
    """What is known of the tests.

    Parameters
    ----------
    seconds : dict
        How long each takes, alone.
    by_line : dict
        Tests that run a line, by path and line.
    most : int
        So many are asked about a change.
    """

    seconds: dict[str, float]
    by_line: dict[str, dict[int, set[str]]]
    most: int

    @staticmethod
    def read(path: Path, most: int) -> Suite:
        """From what the covering run wrote."""
        tests = json.loads(path.read_text(encoding="utf-8"))
        by_line: dict[str, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
        for test, one in tests.items():
            for file, lines in one["lines"].items():
                for line in lines:
                    by_line[file][line].add(test)
        return Suite({test: one["seconds"] for test, one in tests.items()}, by_line, most)

    def asked_about(self, mutation: Mutation) -> list[str]:
        """Tests that may notice a change, the quickest, those of one file together."""
        ran = self.by_line.get(mutation.path, {})
        found = {test for line in mutation.watched for test in ran.get(line, ())}
        if mutation.names:
            found = set(self._of_names(frozenset(mutation.names)))
            found = found or {test for tests in ran.values() for test in tests}
        return self._quickest(found)

    def _of_names(self, names: frozenset[str]) -> Iterator[str]:
        for path, ran in self.by_line.items():
            for line in speakers((ROOT / path).read_bytes(), names):
                yield from ran.get(line, ())

    def _quickest(self, tests: Iterable[str]) -> list[str]:
        cases: Counter[str] = Counter()
        chosen: dict[str, list[str]] = defaultdict(list)
        count, spent = 0, 0.0
        for test in sorted(tests, key=lambda name: (self.seconds[name], name)):
            cases[_function(test)] += 1
            if cases[_function(test)] > MOST_OF_ONE:
                continue
            count, spent = count + 1, spent + self.seconds[test]
            if count > self.most and spent > QUICK_S:
                break
            chosen[test.split("::")[0]].append(test)
        files = sorted(chosen.values(), key=lambda ones: sum(self.seconds[one] for one in ones))
        return [test for ones in files for test in ones]


def _function(test: str) -> str:
    return test.split("[", maxsplit=1)[0]


@contextmanager
def copied() -> Iterator[Path]:
    """A copy of the tree whose files are compiled by content: a change within the second is seen."""
    with tempfile.TemporaryDirectory(prefix="lakeplumb-mutations-") as folder:
        copy = Path(folder) / "tree"
        shutil.copytree(ROOT, copy, ignore=LEFT_OUT)
        by_content = [sys.executable, "-m", "compileall", "-q", "--invalidation-mode", "checked-hash", "survey", "maps"]
        subprocess.run(by_content, cwd=copy, check=True)  # noqa: S603  (our own command)
        yield copy


def run_pytest(copy: Path, *arguments: str, limit_s: float | None = None, **more: str) -> int | None:
    """What pytest returns in a copy; None where it took too long.

    It runs in a fork of this process, in which what the project stands on is loaded by now: most of a start is that.
    """
    child = FORK.Process(target=_in_child, args=(copy, arguments, limit_s, more))
    child.start()
    child.join(limit_s and WAIT * limit_s)
    if child.exitcode is None:
        os.killpg(child.pid, signal.SIGKILL)
        child.join()
    return None if child.exitcode in {-signal.SIGKILL, -signal.SIGXCPU} else child.exitcode


def _in_child(copy: Path, arguments: tuple[str, ...], limit_s: float | None, more: dict[str, str]) -> None:
    os.setsid()
    if limit_s:
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    os.chdir(copy)
    os.environ.update(SETTLED | more)
    sys.dont_write_bytecode = bool(os.environ["PYTHONDONTWRITEBYTECODE"])
    sys.path[:] = [str(copy), str(copy / "scripts"), *(path for path in sys.path if path not in OWN_PATHS)]
    for name in OWN:
        sys.modules.pop(name, None)
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    threadpool_limits(1)
    os._exit(int(pytest.main(["-q", "-p", "no:cacheprovider", *arguments])))


def cover(tests: Iterable[str]) -> Path:
    """Find out what tests run; what was known of others stays."""
    KEPT.mkdir(parents=True, exist_ok=True)
    known, fresh = KEPT / "covered.json", KEPT / "fresh.json"
    with copied() as copy:
        if run_pytest(copy, "-p", "mutation_cover", *tests, **{WRITTEN: str(fresh)}) not in {PASSED, FAILED}:
            sys.exit("The tests could not be run.")
    before = json.loads(known.read_text(encoding="utf-8")) if known.exists() else {}
    known.write_text(json.dumps(before | json.loads(fresh.read_text(encoding="utf-8"))), encoding="utf-8")
    fresh.unlink()
    return known


def sample(count: int, seed: int) -> list[Mutation]:
    """Changes to try, the same for the same program and seed."""
    paths = sorted({path for pattern in MODULES for path in ROOT.glob(pattern) if path.name not in WORDS_ONLY})
    every = [m for path in paths for m in mutations_of(path.relative_to(ROOT).as_posix(), path.read_bytes())]
    return random.Random(seed).sample(sorted(every), min(count, len(every)))  # noqa: S311  (no secret)


def outcome(mutation: Mutation, suite: Suite, copy: Path) -> str:
    """Try one change in a copy: noticed, too slow, survived or not covered."""
    tests = suite.asked_about(mutation)
    if not tests:
        return "not covered"
    path, limit_s = copy / mutation.path, LEAST_S + PATIENCE * sum(suite.seconds[test] for test in tests)
    sound = path.read_bytes()
    path.write_bytes(mutation.applied(sound))
    try:
        found = run_pytest(copy, "-x", *tests, limit_s=limit_s)
        if found == NOT_FOUND:
            found = run_pytest(copy, "-x", *dict.fromkeys(map(_function, tests)), limit_s=2 * limit_s)
    finally:
        path.write_bytes(sound)
    if found is None:
        return "too slow"
    return "noticed" if found else "survived"


def tried(kept: Path) -> dict[str, str]:
    """What came out by now, by change."""
    lines = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
    return {one["key"]: one["outcome"] for one in map(json.loads, lines)}


def try_all(mutations: list[Mutation], suite: Suite, kept: Path, jobs: int) -> None:
    """Try changes, each job in a copy of its own, and write down each as it comes out."""
    working = [FORK.Process(target=_try_some, args=(mutations[k::jobs], suite, kept)) for k in range(jobs)]
    for one in working:
        one.start()
    for one in working:
        one.join()


def _try_some(mutations: list[Mutation], suite: Suite, kept: Path) -> None:
    with copied() as copy:
        # Compiles the tests, once.
        run_pytest(copy, "--collect-only", *TESTS, PYTHONDONTWRITEBYTECODE="")
        for left, mutation in zip(range(len(mutations) - 1, -1, -1), mutations, strict=True):
            found = outcome(mutation, suite, copy)
            with kept.open("a", encoding="utf-8") as out:
                out.write(json.dumps({"key": mutation.key, "outcome": found}) + "\n")
            print(f"{left:4d} left  {found:12s} {described(mutation)}", flush=True)


def described(mutation: Mutation) -> str:
    """Where, before and after, with the line."""
    text = (ROOT / mutation.path).read_text(encoding="utf-8").splitlines()[mutation.line - 1].strip()
    return f"{mutation.path}:{mutation.line}: {mutation.before} → {mutation.after or '(gone)'}    {text}"


def report(mutations: list[Mutation], found: dict[str, str]) -> None:
    """Print the score and who survived."""
    done = [m for m in mutations if m.key in found]
    counts = Counter(found[m.key] for m in done)
    noticed = counts["noticed"] + counts["too slow"]
    share = noticed / max(len(done), 1)
    print(f"\n{len(done)} of {len(mutations)} tried, {noticed} noticed ({share:.0%}): {dict(counts)}")
    for kind in ("survived", "not covered"):
        for mutation in sorted(m for m in done if found[m.key] == kind):
            print(f"{kind}: {described(mutation)}")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--mutations", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--tests", type=int, default=40, help="so many are asked about a change")
    parser.add_argument("--cover", nargs="*", metavar="TESTS", help="find out again what these tests run; none: all")
    parser.add_argument("--again", action="store_true", help="try the survivors once more")
    asked = parser.parse_args()
    known = KEPT / "covered.json"
    if asked.cover is not None or not known.exists():
        known = cover(asked.cover or TESTS)
    kept = KEPT / f"results-{asked.seed}.jsonl"
    mutations, found = sample(asked.mutations, asked.seed), tried(kept)
    passed_over = {"noticed", "too slow"} if asked.again else {"noticed", "too slow", "survived", "not covered"}
    left = [mutation for mutation in mutations if found.get(mutation.key) not in passed_over]
    try_all(left, Suite.read(known, asked.tests), kept, asked.jobs)
    report(mutations, tried(kept))


if __name__ == "__main__":
    main()
