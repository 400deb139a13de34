"""The libraries the page and its tests carry are exactly what was fetched, each with a licence."""

import hashlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
MANIFESTS = sorted(
    path
    for place in ("src/bonewright/web/static/vendor", "tests/browser/vendor")
    for path in (ROOT / place).glob("*/manifest.toml")
)
FREE = {"MIT", "ISC", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "MPL-2.0"}


def _entry(manifest: Path) -> dict[str, Any]:
    return tomllib.loads(manifest.read_text(encoding="utf-8"))


def test_there_are_vendored_libraries_and_each_folder_has_a_manifest() -> None:
    assert MANIFESTS
    for place in {manifest.parent.parent for manifest in MANIFESTS}:
        folders = {path for path in place.iterdir() if path.is_dir()}
        assert folders == {path.parent for path in MANIFESTS if path.parent.parent == place}


@pytest.mark.parametrize("manifest", MANIFESTS, ids=lambda path: path.parent.name)
def test_every_vendored_file_is_the_one_fetched_and_none_is_beside_them(manifest: Path) -> None:
    entry = _entry(manifest)
    present = {
        path.relative_to(manifest.parent).as_posix(): path
        for path in manifest.parent.rglob("*")
        if path.is_file() and path != manifest
    }
    assert {
        name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in present.items()
    } == entry["sha256"]


@pytest.mark.parametrize("manifest", MANIFESTS, ids=lambda path: path.parent.name)
def test_every_vendored_library_is_free_to_pass_on_and_carries_its_licence(manifest: Path) -> None:
    entry = _entry(manifest)
    assert entry["licence"] in FREE
    assert any("licen" in name.lower() for name in entry["sha256"])
    assert entry["integrity"].startswith("sha512-")
    assert entry["version"] in manifest.parent.name
