"""List what Bonewright is made of and under which licences, into docs/licences.md.

Reads the pinned run-time requirements, what each installed package says of itself, and the
manifests of the browser libraries that the page carries.
"""

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "licences.md"
REQUIREMENTS = ROOT / "requirements" / "runtime.txt"
VENDOR = ROOT / "src" / "bonewright" / "web" / "static" / "vendor"
FONTS = ROOT / "src" / "bonewright" / "fonts"

_PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)([^\\]*)", re.MULTILINE)
_CLASSIFIER = "License :: "


def pinned() -> dict[str, tuple[str, str]]:
    """Return each pinned run-time requirement: its version and for which systems."""
    found = {}
    for name, version, marker in _PIN.findall(REQUIREMENTS.read_text(encoding="utf-8")):
        found[name] = (version, marker.strip().removeprefix(";").strip())
    return found


def licence_of(package: Distribution) -> str:
    """Return the licence a package states: an SPDX expression, a classifier or a short text."""
    about = package.metadata
    for expression in about.get_all("License-Expression") or []:
        return str(expression)
    classifiers = [
        text.rsplit("::", 1)[1].strip()
        for text in about.get_all("Classifier") or []
        if text.startswith(_CLASSIFIER) and text.count("::") > 1
    ]
    if classifiers:
        return ", ".join(classifiers)
    for stated in about.get_all("License") or []:
        if "\n" not in stated.strip() and len(stated) < 60:
            return str(stated).strip()
    return ""


def copyleft_words(rows: list[str]) -> list[str]:
    """Say which packages ask that what is passed on together with them be under their terms."""
    names = [row.split(" | ")[0].removeprefix("| ") for row in rows if "GPL" in row]
    if not names:
        return []
    return [
        f"Under the GNU General Public License: {', '.join(names)}. Bonewright's own files stay"
        " under the MIT licence; whoever passes them on *together with* such a package (an"
        " installer, a disk image) passes the whole on under that package's terms.",
        "",
    ]


def page() -> str:
    """Return docs/licences.md as the installed packages have it.

    Raises
    ------
    SystemExit
        If a package states no licence.
    """
    rows, elsewhere, silent = [], [], []
    for name, (version, marker) in sorted(pinned().items()):
        try:
            package = distribution(name)
        except PackageNotFoundError:
            elsewhere.append(f"{name} {version} ({marker or 'not installed here'})")
            continue
        licence = licence_of(package)
        if not licence:
            silent.append(name)
        rows.append(f"| {name} | {version} | {licence} |")
    if silent:
        raise SystemExit(f"No licence stated by: {', '.join(silent)}. Read their licence files.")
    carried = []
    for manifest in sorted(VENDOR.glob("*/manifest.toml")):
        about = tomllib.loads(manifest.read_text(encoding="utf-8"))
        carried.append(f"| {about['name']} | {about['version']} | {about['licence']} |")
    lines = [
        "# What Bonewright is made of",
        "",
        "Written by `tools/write_licences.py` from the pinned requirements; do not edit by hand."
        " Bonewright itself is under the MIT licence. Nothing here asks that your study or your"
        " report carry a licence.",
        "",
        "## Python packages it runs on",
        "",
        "| package | version | licence it states |",
        "|---|---|---|",
        *rows,
        "",
        *copyleft_words(rows),
        "## Libraries the page carries",
        "",
        "| library | version | licence |",
        "|---|---|---|",
        *carried,
        "",
        "The licence text stands beside each library's files. The typeface Source Sans 3 is"
        " under the SIL Open Font License 1.1, its text beside it.",
        "",
    ]
    if elsewhere:
        lines += [
            "## Pinned for other systems",
            "",
            "Not installed where this page was written, so not read: " + "; ".join(elsewhere) + ".",
            "",
        ]
    return "\n".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"Wrote {PAGE.relative_to(ROOT)}.")
