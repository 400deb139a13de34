"""The invented pictures, accounts and old mount."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from demo_animal import SEX_FACTOR
from demo_pictures import photograph_mount
from demo_words_file import lines_of

Row = dict[str, str]

CHANGE_YEAR: Final = 1697

SCORERS: Final = {"scorer 1": 0.0, "scorer 2": 0.2, "scorer 3": -0.15}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Rows of pictures and picture_marks, the fatness each shows, and who copied whom.

    ``copied`` holds every copy, ``hidden`` those that no row of the study tells of.
    """

    rows: list[Row]
    marks: list[Row]
    fatness: dict[str, float]
    copied: dict[str, str]
    hidden: dict[str, str]


def make_pictures(rng: np.random.Generator) -> Pictures:
    """Make the register of pictures and their scores for fatness."""
    known: dict[int, bool] = {}
    drawn: list[tuple[str, int | None, str, str, str, float]] = []
    for date, title, source, place, points in lines_of("pictures.txt"):
        drawn.append((date, None, title, source, place, float(points)))
    for date, number, title, knowledge in lines_of("copies.txt"):
        shown = drawn[int(number) - 1][-1]
        known[len(drawn)] = knowledge == "known"
        source = "another picture" if known[len(drawn)] else "unknown"
        drawn.append((date, int(number) - 1, title, source, "home port", shown))
    order = sorted(range(len(drawn)), key=lambda i: (drawn[i][0][:4], i))
    name = {index: f"pic-{place:02d}" for place, index in enumerate(order, start=1)}
    copied: dict[str, str] = {}
    hidden: dict[str, str] = {}
    fatness: dict[str, float] = {}
    pictures: list[Row] = []
    marks: list[Row] = []
    for index in order:
        date, original, title, source, place, shown = drawn[index]
        if original is not None:
            copied[name[index]] = name[original]
            if not known[index]:
                hidden[name[index]] = name[original]
        fatness[name[index]] = shown
        pictures.append(
            {
                "pictureID": name[index],
                "title": title,
                "eventDate": date,
                "drawnFrom": source,
                "copyOf": "" if original is None or not known[index] else name[original],
                "creator": "unknown hand",
                "locality": place,
                "reliability": {"life": "high", "dead specimen": "fair"}.get(source, "poor"),
                "reliabilityReason": {
                    "life": "inscribed as drawn before the living bird",
                    "dead specimen": "made from a dead bird, posture guessed",
                    "another picture": "copies another picture",
                }.get(source, "nothing says what it was drawn from"),
                "sourceID": "src-11",
            }
        )
        for scorer, bias in SCORERS.items():
            score = np.clip(round((shown + bias + rng.normal(0, 0.3)) * 2) / 2, 1, 5)
            marks.append(
                {
                    "measurementID": f"k-{len(marks) + 1:03d}",
                    "pictureID": name[index],
                    "measurementType": "fatness",
                    "measurementValue": f"{score:g}",
                    "measurementDeterminedBy": scorer,
                }
            )
    return Pictures(rows=pictures, marks=marks, fatness=fatness, copied=copied, hidden=hidden)


def score_posture(rng: np.random.Generator, pictures: Pictures, marked: list[str]) -> list[Row]:
    """Return further rows of picture_marks: posture and plumage of the marked pictures."""
    rows: list[Row] = []
    shown: dict[tuple[str, str], float] = {}
    for kind in ("posture", "plumage"):
        for name in marked:
            original = pictures.copied.get(name, name)
            value = shown.setdefault((kind, original), float(rng.uniform(1, 5)))
            for scorer, bias in SCORERS.items():
                score = np.clip(round((value + bias + rng.normal(0, 0.4)) * 2) / 2, 1, 5)
                rows.append(
                    {
                        "measurementID": f"k-{len(pictures.marks) + len(rows) + 1:03d}",
                        "pictureID": name,
                        "measurementType": kind,
                        "measurementValue": f"{score:g}",
                        "measurementDeterminedBy": scorer,
                    }
                )
    return rows


def add_files(pictures: Pictures, files: dict[str, bytes]) -> None:
    """Name the picture files in their rows."""
    for row in pictures.rows:
        if row["pictureID"] in files:
            row["pictureFile"] = f"pictures/{row['pictureID']}.gif"
            row["license"] = "CC0 1.0 (drawn for this invented study)"


def mount_photograph(
    rng: np.random.Generator, average_mm: dict[tuple[str, str], float], *, first: int
) -> tuple[Row, bytes, list[Row]]:
    """Return the row, the file and the marks of the photograph of the old mount."""
    faults = {
        (element, code): float(fault)
        for _, element, code, _, _, fault in lines_of("mount.txt")
        if float(fault) != 1
    }
    content, marks = photograph_mount(rng, average_mm, faults=faults, first=first)
    row = {
        "pictureID": "photo-1",
        "title": "photograph of the old mount with a bar of 200 mm",
        "eventDate": "2026-01-20",
        "drawnFrom": "dead specimen",
        "creator": "study team",
        "locality": "store",
        "pictureFile": "pictures/photo-1.gif",
        "license": "CC0 1.0 (drawn for this invented study)",
        "shows": "mount",
        "scaleLength": "200",
        "scaleUnit": "mm",
        "reliability": "fair",
        "reliabilityReason": "taken square on from six metres; the bar stands beside the feet",
        "sourceID": "src-13",
    }
    return row, content, marks


def unit_rows() -> list[Row]:
    """Return the rows of old units."""
    return [
        {
            "unitID": name,
            "unitValue": best,
            "unitLow": low,
            "unitHigh": high,
            "measurementUnit": unit,
            "locality": place,
            "sourceID": "src-12",
            "unitRemarks": remarks,
        }
        for name, best, low, high, unit, place, remarks in lines_of("units.txt")
    ]


def account_rows() -> tuple[list[Row], list[Row], dict[str, str]]:
    """Return rows of accounts and claims, and who copied whom."""
    accounts: list[Row] = []
    copied: dict[str, str] = {}
    for number, line in enumerate(lines_of("accounts.txt"), start=1):
        date, title, standing, copy_of, writer, passage = line
        original = f"acc-{int(copy_of):02d}" if copy_of else ""
        if original:
            copied[f"acc-{number:02d}"] = original
        accounts.append(
            {
                "accountID": f"acc-{number:02d}",
                "title": title,
                "eventDate": date,
                "standing": standing,
                "copyOf": original,
                "creator": writer,
                "locality": {"eyewitness": "Merrowend"}.get(standing, "home port"),
                "passage": passage,
                "reliability": {"eyewitness": "high", "second hand": "fair"}.get(standing, "poor"),
                "reliabilityReason": {
                    "eyewitness": "the writer saw the bird",
                    "second hand": "the writer had it from others",
                }.get(standing, "copies another account"),
                "sourceID": "src-12",
            }
        )
    claims: list[Row] = []
    for number, line in enumerate(lines_of("claims.txt"), start=1):
        account, kind, value, unit, words, remarks, place, distance, ratio, about = line
        claims.append(
            {
                "claimID": f"clm-{number:02d}",
                "accountID": f"acc-{int(account):02d}",
                "claimType": kind,
                "measurementValue": value,
                "measurementUnit": unit,
                "statement": words,
                "passageLocation": place,
                "observerDistance": distance,
                "likelihoodRatio": ratio,
                "likelihoodRatioFor": about,
                "claimRemarks": remarks,
            }
        )
    return accounts, claims, copied


def mount_rows(
    rng: np.random.Generator, average_mm: dict[tuple[str, str], float]
) -> tuple[list[Row], list[str]]:
    """Return the rows of the old mount and the ids of the five that are wrong."""
    rows: list[Row] = []
    wrong: list[str] = []
    size = SEX_FACTOR["male"] * 0.99
    for number, line in enumerate(lines_of("mount.txt"), start=1):
        title, element, code, low, high, fault = line
        flesh = float(low) + (float(high) - float(low)) * float(rng.uniform(0.3, 0.7))
        right = average_mm[element, code] * size * float(np.exp(rng.normal(0, 0.013))) + flesh
        identifier = f"mt-{number:02d}"
        if float(fault) != 1:
            wrong.append(identifier)
        rows.append(
            {
                "measurementID": identifier,
                "mountID": "mount-1",
                "title": title,
                "element": element,
                "measurementType": code,
                "measurementValue": f"{right * float(fault):.0f}",
                "measurementUnit": "mm",
                "allowanceLow": low,
                "allowanceHigh": high,
                "sourceID": "src-13",
                "measurementRemarks": "taken over the skin, gloves and mask worn",
            }
        )
    return rows, wrong
