"""A few of the folder's mutations; `tests/studies/fuzz_site.py` runs as many as one likes."""

from __future__ import annotations

import random
import time

import pytest

from tests.site.small_site import texts
from tests.site.spoil import must_hold, spoil, write_spoilt
from wearplan.site import load


@pytest.mark.parametrize("block", range(6))
def test_spoilt_folders_are_read_without_a_traceback(tmp_path, block):
    for seed in range(block * 30, (block + 1) * 30):
        files = spoil(texts(), random.Random(seed))
        folder = tmp_path / str(seed)
        write_spoilt(folder, files)
        start = time.process_time()
        loaded = load(folder)
        assert time.process_time() - start < 10, f"seed {seed}"
        try:
            must_hold(loaded)
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
