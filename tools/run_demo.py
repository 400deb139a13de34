"""Run the whole job on a copy of the demo study and say which files to open."""

import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo"
COPY = ROOT / "out" / "demo"


def main() -> None:
    """Check, run and report the demo study.

    Works on a copy, so that the demo can be broken and restored by running this again.
    """
    if COPY.exists():
        shutil.rmtree(COPY)
    shutil.copytree(DEMO, COPY)
    command = Path(sys.executable).with_name("bonewright")
    for step in ("run", "report"):
        print(f"\n$ bonewright {step} out/demo", flush=True)
        done = subprocess.run([command, step, str(COPY.relative_to(ROOT))], cwd=ROOT, check=False)
        if done.returncode:
            sys.exit(done.returncode)
    print(
        "\nThe report is in out/demo/results/report.pdf, and the same in report.html."
        "\nThe tables behind it are in out/demo/tables: open them in a spreadsheet."
        f"\nTo work in the page: {Path('.venv') / 'bin' / 'bonewright'} open out/demo"
    )


if __name__ == "__main__":
    main()
