"""Fetch the few browser libraries that the page carries, and hold them to what was fetched.

``python tools/vendor.py add papaparse 5.7.1 papaparse.min.js LICENSE`` fetches a package with
npm, checks it against the registry's integrity hash and copies the files named, with a
manifest, into ``src/bonewright/web/static/vendor/papaparse-5.7.1``. ``--into`` names another
folder, for what only the tests need. ``python tools/vendor.py check`` fetches everything again
and tells of every file that differs. Nothing is fetched when the page runs.
"""

import argparse
import base64
import hashlib
import json
import subprocess
import sys
import tarfile
import tempfile
import tomllib
from pathlib import Path

import tomlkit

ROOT = Path(__file__).resolve().parent.parent
VENDOR = ROOT / "src" / "bonewright" / "web" / "static" / "vendor"
PLACES = (VENDOR, ROOT / "tests" / "browser" / "vendor")
MANIFEST = "manifest.toml"


def integrity_of(content: bytes) -> str:
    """Return the integrity hash of a package as the registry writes it."""
    return "sha512-" + base64.b64encode(hashlib.sha512(content).digest()).decode()


def fetch(name: str, version: str) -> tuple[dict[str, str], dict[str, bytes]]:
    """Fetch a package: what the registry says of it, and its files by their place in it.

    Raises
    ------
    SystemExit
        If npm fails, or the package is not the one the registry vouches for.
    """
    told = json.loads(_npm("view", "--json", f"{name}@{version}", "license", "dist.integrity"))
    with tempfile.TemporaryDirectory() as place:
        _npm("pack", "--silent", "--ignore-scripts", f"{name}@{version}", place=place)
        packed = next(Path(place).glob("*.tgz"))
        content = packed.read_bytes()
        if integrity_of(content) != told["dist.integrity"]:
            sys.exit(f"{name} {version} is not what the registry vouches for: not taken.")
        with tarfile.open(packed) as archive:
            files = {
                member.name.partition("/")[2]: archive.extractfile(member).read()  # type: ignore[union-attr]
                for member in archive.getmembers()
                if member.isfile()
            }
    return {"licence": told["license"], "integrity": told["dist.integrity"]}, files


def _npm(*arguments: str, place: str | None = None) -> str:
    done = subprocess.run(
        ["npm", *arguments], cwd=place, capture_output=True, text=True, check=False
    )
    if done.returncode:
        sys.exit(f"npm {' '.join(arguments)} failed:\n{done.stderr}")
    return done.stdout


def add(name: str, version: str, wanted: list[str], *, into: Path) -> None:
    """Copy files of a package into a folder of its own and write their manifest."""
    told, files = fetch(name, version)
    missing = [path for path in wanted if path not in files]
    if missing:
        sys.exit(f"{name} {version} has no {', '.join(missing)}; it has {', '.join(files)}.")
    folder = into / f"{name.replace('/', '-').lstrip('@')}-{version}"
    document = tomlkit.document()
    document.add(tomlkit.comment("Fetched by tools/vendor.py; change nothing here by hand."))
    for key, value in {"name": name, "version": version, **told}.items():
        document.add(key, value)
    listed = tomlkit.table()
    for path in wanted:
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(files[path])
        listed.add(path, hashlib.sha256(files[path]).hexdigest())
    document.add("sha256", listed)
    (folder / MANIFEST).write_text(tomlkit.dumps(document), encoding="utf-8")
    print(f"{folder.relative_to(ROOT)}: {', '.join(wanted)} ({told['licence']})")


def check() -> None:
    """Fetch every package again and tell of every file that is not the one fetched."""
    differing = []
    for manifest in sorted(path for place in PLACES for path in place.glob(f"*/{MANIFEST}")):
        entry = tomllib.loads(manifest.read_text(encoding="utf-8"))
        told, files = fetch(entry["name"], entry["version"])
        if told["integrity"] != entry["integrity"]:
            differing.append(f"{entry['name']}: another package under the same version")
        for path in entry["sha256"]:
            if (manifest.parent / path).read_bytes() != files.get(path):
                differing.append(f"{entry['name']}: {path}")
        print(f"{entry['name']} {entry['version']}: {len(entry['sha256'])} files compared")
    if differing:
        sys.exit("Not as fetched:\n" + "\n".join(differing))


def main() -> None:
    """Do what the command line says."""
    parser = argparse.ArgumentParser(description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    adding = commands.add_parser("add", help="fetch a package and copy files of it")
    adding.add_argument("name")
    adding.add_argument("version")
    adding.add_argument("files", nargs="+")
    adding.add_argument("--into", type=Path, default=VENDOR)
    commands.add_parser("check", help="compare what is here with the registry")
    chosen = parser.parse_args()
    if chosen.command == "add":
        add(chosen.name, chosen.version, chosen.files, into=chosen.into.resolve())
    else:
        check()


if __name__ == "__main__":
    main()
