"""Coverage-guided fuzzing of the readers: inputs that reach new code are kept, and bred from.

    .venv/bin/python -m scripts.fuzz.guided [--inputs 100000] [--seed 1] [--kept FOLDER]

Needs the library atheris (``pip install atheris``), which the project does not ask for elsewhere; ``readers.py``
works without it. Ends with the first input that is neither read nor refused in words, and leaves it in FOLDER.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

LONGEST_INPUT = 8192
SLOW_S = 20
MISSING = (
    "Guided fuzzing needs the library atheris, which is not installed here: .venv/bin/pip install atheris\n"
    "(it has wheels for Linux and for some versions of Python only). Without it, run scripts/fuzz/readers.py."
)


def main() -> int:
    """Run from the command line; the library ends the process when it is done."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--inputs", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", type=Path, default=Path("out/fuzz"), help="for inputs worth keeping")
    asked = parser.parse_args()
    try:
        import atheris
    except ImportError:
        print(MISSING, file=sys.stderr)
        return 2
    with atheris.instrument_imports(include=["survey"]):
        from scripts.fuzz.targets import targets, words, write_seeds
    corpus, dictionary = asked.kept / "corpus", asked.kept / "words.txt"
    write_seeds(corpus)
    dictionary.write_text(words(), encoding="ascii")
    options = [
        *(f"-runs={asked.inputs}", f"-seed={asked.seed}", f"-max_len={LONGEST_INPUT}", "-len_control=0"),
        *(f"-timeout={SLOW_S}", f"-dict={dictionary}", f"-artifact_prefix={asked.kept}/"),
    ]
    atheris.Setup([sys.argv[0], *options, str(corpus)], targets().give)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
