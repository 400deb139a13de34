"""Build the wheel twice, compare, install it in a bare environment and run the demo with it."""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from prepare import ROOT, find_uv, scripts

_LEFT_OUT = shutil.ignore_patterns(
    ".git", ".venv*", ".mypy_cache", ".ruff_cache", "__pycache__", "out", "dist", ".hypothesis"
)


def built(into: Path) -> Path:
    """Build the wheel from a fresh copy of the source, whose files have today's date."""
    source = into / "source"
    shutil.copytree(ROOT, source, ignore=_LEFT_OUT, copy_function=shutil.copyfile)
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(into)],
        cwd=source, check=True, capture_output=True,
    )  # fmt: skip
    return next(into.glob("*.whl"))


def run_demo_with(wheel: Path, place: Path) -> str:
    """Install a wheel in a bare environment and return what the demo's run prints."""
    uv, python = find_uv(), scripts(place / "bare") / "python"
    quiet = {**os.environ, "UV_LINK_MODE": "copy", "UV_PYTHON_DOWNLOADS": "never"}
    requirements = ROOT / "requirements" / "runtime.txt"
    for command in (
        [uv, "venv", "--quiet", "--python", sys.executable, place / "bare"],
        [uv, "pip", "install", "--quiet", "--python", python, "--require-hashes",
         "-r", requirements],
        [uv, "pip", "install", "--quiet", "--python", python, "--no-deps", wheel],
        [scripts(place / "bare") / "bonewright", "new", place / "demo", "--demo"],
    ):  # fmt: skip
        subprocess.run([str(part) for part in command], check=True, cwd=place, env=quiet)
    ran = subprocess.run(
        [str(scripts(place / "bare") / "bonewright"), "run", str(place / "demo")],
        check=True, cwd=place, capture_output=True, text=True,
    )  # fmt: skip
    return ran.stdout


def main() -> int:
    """Say whether both builds are alike and what the demo gives."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        wheels = [built(place / name) for name in ("first", "second")]
        prints = [hashlib.sha256(wheel.read_bytes()).hexdigest() for wheel in wheels]
        if prints[0] != prints[1]:
            print("Two builds of the wheel differ.")
            return 1
        print(f"{wheels[0].name}: built twice, byte for byte alike (sha256 {prints[0]}).")
        print(run_demo_with(wheels[0], place))
    return 0


if __name__ == "__main__":
    sys.exit(main())
