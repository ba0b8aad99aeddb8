"""A small part of the fuzzing of the readers; the script runs as many inputs as one likes."""

import pytest
from fuzz_readers import SOUND, Readers, fuzz


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
