"""Set up what a command needs, with nothing but Python 3.11+ and the package registries.

``python3 tools/prepare.py demo`` makes ``.venv`` with what runs the job;
``python3 tools/prepare.py test`` adds what the tests need, the browser included. Both are
quick when nothing has changed. Pinned and hashed requirements are installed as they stand.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
TOOL_VENV = ROOT / ".venv-uv"
REQUIREMENTS = {
    "demo": ROOT / "requirements" / "runtime.txt",
    "test": ROOT / "requirements" / "test.txt",
}
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def scripts(venv: Path) -> Path:
    """Return the folder of a virtual environment that holds its programs."""
    return venv / ("Scripts" if os.name == "nt" else "bin")


def run(*command: str | Path) -> None:
    """Run a command; stop with its exit code if it fails."""
    environment = {**os.environ, "UV_PYTHON_DOWNLOADS": "never", "UV_LINK_MODE": "copy"}
    done = subprocess.run([str(part) for part in command], cwd=ROOT, env=environment, check=False)
    if done.returncode:
        print(f"Stopped: '{' '.join(str(part) for part in command)}' failed.", file=sys.stderr)
        sys.exit(done.returncode)


def find_uv() -> Path:
    """Find uv, or fetch it into a small environment of its own."""
    found = shutil.which("uv")
    if found:
        return Path(found)
    own = scripts(TOOL_VENV) / ("uv.exe" if os.name == "nt" else "uv")
    if not own.exists():
        print("Fetching uv, which installs the rest.")
        run(sys.executable, "-m", "venv", TOOL_VENV)
        run(scripts(TOOL_VENV) / "python", "-m", "pip", "install", "--quiet", "uv")
    return own


def install(kind: str) -> None:
    """Install the requirements of ``kind`` and the package, unless that is done already."""
    requirements = REQUIREMENTS[kind]
    state = hashlib.sha256(
        requirements.read_bytes() + (ROOT / "pyproject.toml").read_bytes()
    ).hexdigest()
    marks = {name: VENV / f"ready-for-{name}" for name in REQUIREMENTS}
    if marks[kind].exists() and marks[kind].read_text() == state:
        return
    uv = find_uv()
    python = scripts(VENV) / ("python.exe" if os.name == "nt" else "python")
    if not python.exists():
        run(uv, "venv", "--quiet", "--python", sys.executable, VENV)
    run(uv, "pip", "install", "--quiet", "--python", python, "--require-hashes", "-r", requirements)
    run(
        uv, "pip", "install", "--quiet", "--python", python,
        "--no-deps", "--no-build-isolation", "--editable", ROOT,
    )  # fmt: skip
    print("Compiling what only has to be compiled once.")
    run(python, ROOT / "tools" / "warm_up.py")
    marks[kind].write_text(state)


def install_browser() -> None:
    """See that a Chromium is there for the tests of the page."""
    if any(shutil.which(name) for name in BROWSERS):
        return
    print("Fetching a browser for the tests of the page.")
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        run("apt-get", "update", "-qq")
        run("apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium")
        return
    run(scripts(VENV) / "playwright", "install", "chromium")


def main() -> None:
    """Set up for the command named on the command line."""
    if sys.version_info < (3, 11):  # noqa: UP036 - the person may start this with an older one
        sys.exit("Bonewright needs Python 3.11 or newer. Try: make PYTHON=python3.12 demo")
    kind = sys.argv[1] if len(sys.argv) == 2 else ""
    if kind not in REQUIREMENTS:
        sys.exit("usage: python3 tools/prepare.py demo|test")
    install(kind)
    if kind == "test":
        install_browser()


if __name__ == "__main__":
    main()
