"""Look up known vulnerabilities of what is pinned, as far as the package registry tells them.

Prints what was found and what could not be looked up. Exits 1 only with ``--strict``: a
vulnerability made known today in a package must not stop somebody's tests tomorrow, but it
must be seen.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
SECONDS = 180


def audited(requirements: Path) -> tuple[list[dict[str, Any]], str]:
    """Return what the auditing tool says of each package, or why it could not say anything."""
    try:
        done = subprocess.run(
            [
                sys.executable, "-m", "pip_audit", "--requirement", str(requirements),
                "--no-deps", "--disable-pip", "--format", "json", "--progress-spinner", "off",
                "--timeout", "15",
            ],
            capture_output=True, text=True, timeout=SECONDS, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return [], f"the registry did not answer within {SECONDS} seconds"
    try:
        return json.loads(done.stdout)["dependencies"], ""
    except (ValueError, KeyError):
        last = (done.stderr.strip().splitlines() or ["no word from the auditing tool"])[-1]
        return [], last


def words(packages: list[dict[str, Any]], why_not: str) -> list[str]:
    """Say what an audit found, one line a package with a known vulnerability, then the sum."""
    if why_not:
        return [f"Audit of dependencies: could not be made here ({why_not})."]
    known = [package for package in packages if "vulns" in package]
    bad = [package for package in known if package["vulns"]]
    lines = []
    for package in bad:
        names = ", ".join(one["id"] for one in package["vulns"])
        lines.append(f"Known vulnerability: {package['name']} {package['version']}: {names}")
    lines.append(
        f"Audit of dependencies: {len(known)} looked up, {len(bad)} with a known vulnerability,"
        f" {len(packages) - len(known)} not known to the registry reached from here."
    )
    return lines


def main() -> int:
    """Audit the run-time requirements and say what came of it."""
    lines = words(*audited(ROOT / "requirements" / "runtime.txt"))
    print("\n".join(lines))
    return 1 if len(lines) > 1 and "--strict" in sys.argv[1:] else 0


if __name__ == "__main__":
    sys.exit(main())
