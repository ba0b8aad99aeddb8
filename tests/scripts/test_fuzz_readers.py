"""A small part of the fuzzing of the readers; the scripts run as many inputs as one likes."""

import re
import sys

import pytest

from scripts.fuzz import guided as fuzz_guided
from scripts.fuzz.readers import SOUND, Readers, fuzz
from scripts.fuzz.targets import FILES, Targets, seeds, words


@pytest.mark.parametrize("seed", [1, 2])
def test_any_input_is_read_or_refused_and_no_row_is_lost(seed):
    told: list[str] = []
    readers = fuzz(150, seed, told.append)
    assert sum(readers.ends.values()) >= 150
    assert readers.ends["read"] > 10
    assert readers.ends["refused"] > 10
    assert told[-1].startswith("broken files")


def test_the_sound_files_are_read(tmp_path):
    readers = Readers(tmp_path)
    for name, text in SOUND.items():
        readers.give(name, text.encode() if isinstance(text, str) else text)
    assert readers.ends == {"read": len(SOUND)}


def test_guided_fuzzing_begins_with_inputs_for_every_target_and_sound_files(tmp_path):
    targets = Targets(tmp_path)
    for seed in seeds():
        targets.give(seed)
    # One archive has no outline in it: sound as a file, not as a lake.
    assert targets.readers.ends == {"read": len(FILES) - 1, "refused": 1}


def test_the_words_for_guided_fuzzing_are_in_the_form_of_its_dictionaries():
    lines = words().splitlines()
    assert len(lines) > 100
    assert all(re.fullmatch(r'"(\\x[0-9a-f]{2})+"', line) for line in lines)


def test_without_its_library_guided_fuzzing_says_what_is_missing(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "atheris", None)
    monkeypatch.setattr(sys, "argv", ["fuzz_guided.py"])
    assert fuzz_guided.main() == 2
    said = capsys.readouterr().err
    assert "atheris, which is not installed here" in said
    assert "scripts/fuzz/readers.py" in said
