"""The invented measuring of the bones: observers, instruments, repeats and one slip."""

from typing import Final

import numpy as np

from demo_bones import COLLECTIONS, Bone

Row = dict[str, str]

OBSERVER_BIAS_MM: Final = {
    "observer A": 0.03,
    "observer B": -0.05,
    "observer C": 0.08,
    "observer D": 0.0,
}
BOARD_FROM_MM: Final = 150.0


def _reading(rng: np.random.Generator, true_mm: float, *, code: str, observer: str) -> Row:
    """Read one measure off a bone with the instrument that suits it."""
    bias = OBSERVER_BIAS_MM[observer]
    if code == "CD":
        method, division, spread = "strip of paper round the shaft", 0.2, 0.3
    elif true_mm >= BOARD_FROM_MM:
        method, division, spread = "bone board", 0.5, 0.3
    else:
        method, division, spread = "dial callipers", 0.05, 0.04 + 0.001 * true_mm
    read = round((true_mm + bias + float(rng.normal(0, spread))) / division) * division
    return {
        "value_mm": f"{read:.2f}",
        "accuracy_mm": f"{division:g}",
        "measurementMethod": method,
        "measurementDeterminedBy": observer,
    }


def _row(bone: Bone, code: str, reading: Row, *, unit: str, date: str, remarks: str = "") -> Row:
    per_unit = 10.0 if unit == "cm" else 1.0
    places = 3 if unit == "cm" else 2
    return {
        "materialEntityID": bone.bone_id,
        "measurementType": code,
        "measurementValue": f"{float(reading['value_mm']) / per_unit:.{places}f}",
        "measurementUnit": unit,
        "measurementAccuracy": f"{float(reading['accuracy_mm']) / per_unit:g}",
        "measurementDeterminedBy": reading["measurementDeterminedBy"],
        "measurementDeterminedDate": date,
        "measurementMethod": reading["measurementMethod"],
        "sourceID": COLLECTIONS[bone.collection][0],
        "measurementRemarks": remarks,
    }


def measurement_rows(rng: np.random.Generator, bones: list[Bone]) -> list[Row]:
    """Measure every bone once, a third of them again by another, a few again by the same."""
    visits = {code: f"2025-{3 + index:02d}" for index, code in enumerate(COLLECTIONS)}
    rows: list[Row] = []
    for bone in bones:
        _, observer, unit = COLLECTIONS[bone.collection]
        other = "observer D" if observer != "observer D" else "observer A"
        day = f"{visits[bone.collection]}-{int(rng.integers(1, 28)):02d}"
        again_other = rng.random() < 0.3
        again_same = rng.random() < 0.08
        for code in bone.codes:
            true_mm = bone.true_mm[code]
            first = _reading(rng, true_mm, code=code, observer=observer)
            rows.append(_row(bone, code, first, unit=unit, date=day))
            if again_other and code in ("GL", "SC", "CD", "Bd", "LM", "AA"):
                second = _reading(rng, true_mm, code=code, observer=other)
                rows.append(_row(bone, code, second, unit="mm", date="2025-11"))
            if again_same:
                third = _reading(rng, true_mm, code=code, observer=observer)
                rows.append(
                    _row(
                        bone, code, third, unit=unit, date=day, remarks="repeat, blind to the first"
                    )
                )
    for number, row in enumerate(rows, start=1):
        row["measurementID"] = f"m-{number:04d}"
    return rows


def slip(rows: list[Row], bones: list[Bone]) -> tuple[str, float]:
    """Type one length with its point in the wrong place; return its row id and true value."""
    wanted = {
        bone.bone_id
        for bone in bones
        if bone.element == "tarsometatarsus"
        and bone.life_stage == "adult"
        and bone.preparation == "bone"
    }
    for row in rows:
        if (
            row["materialEntityID"] in wanted
            and row["measurementType"] == "GL"
            and row["measurementUnit"] == "mm"
        ):
            right = float(row["measurementValue"])
            row["measurementValue"] = f"{right / 10:.2f}"
            return row["measurementID"], right
    raise ValueError("no length of a tarsometatarsus to get wrong")
