import mmap
import sys

import pytest

from readback.speech.memory import free_memory_mb


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads what Linux tells")
def test_memory_that_is_taken_is_not_free():
    before = free_memory_mb()
    taken = mmap.mmap(-1, 200 * 2**20)
    for start in range(0, len(taken), mmap.PAGESIZE):
        taken[start] = 1

    after = free_memory_mb()
    taken.close()

    assert 0 < after < before
