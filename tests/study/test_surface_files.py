from pathlib import Path

import numpy as np
import pytest

from bonewright.study.surface_files import STL_FACE, read_surface


def test_a_binary_stl_is_read_whole_in_as_many_parts_as_it_needs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bonewright.study.surface_files._FACES_AT_ONCE", 7)
    records = np.zeros(23, dtype=STL_FACE)
    records["corners"] = np.random.default_rng(2).normal(size=(23, 3, 3))
    path = tmp_path / "scan.stl"
    path.write_bytes(bytes(80) + np.uint32(23).tobytes() + records.tobytes())
    surface, problems = read_surface(path, "scan.stl")
    assert problems == ()
    assert surface is not None
    np.testing.assert_array_equal(
        surface.vertices[surface.faces], records["corners"].astype(np.float64)
    )
