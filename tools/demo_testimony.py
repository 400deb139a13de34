"""The invented pictures, accounts and old mount."""

from typing import Final

import numpy as np

from demo_animal import SEX_FACTOR
from demo_words_file import lines_of

Row = dict[str, str]

CHANGE_YEAR: Final = 1697

SCORERS: Final = {"scorer 1": 0.0, "scorer 2": 0.2, "scorer 3": -0.15}


def picture_rows(rng: np.random.Generator) -> tuple[list[Row], list[Row], dict[str, str]]:
    """Return rows of pictures and picture_marks, and who copied whom."""
    drawn: list[tuple[str, int | None, str, str, str, float]] = []
    for date, title, source, place, fatness in lines_of("pictures.txt"):
        drawn.append((date, None, title, source, place, float(fatness)))
    for date, number, title in lines_of("copies.txt"):
        shown = drawn[int(number) - 1][-1]
        drawn.append((date, int(number) - 1, title, "another picture", "home port", shown))
    order = sorted(range(len(drawn)), key=lambda i: (drawn[i][0][:4], i))
    name = {index: f"pic-{place:02d}" for place, index in enumerate(order, start=1)}
    copied: dict[str, str] = {}
    pictures: list[Row] = []
    marks: list[Row] = []
    for index in order:
        date, original, title, source, place, shown = drawn[index]
        if original is not None:
            copied[name[index]] = name[original]
        pictures.append(
            {
                "pictureID": name[index],
                "title": title,
                "eventDate": date,
                "drawnFrom": source,
                "copyOf": "" if original is None else name[original],
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
    return pictures, marks, copied


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
        account, kind, value, unit, words, remarks = line
        claims.append(
            {
                "claimID": f"clm-{number:02d}",
                "accountID": f"acc-{int(account):02d}",
                "claimType": kind,
                "measurementValue": value,
                "measurementUnit": unit,
                "statement": words,
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
