"""Ask a general section-analysis library for the properties of 200 ring-shaped outlines.

Run with an environment of its own that holds sectionproperties (it brings 40 packages, one
of them with terms that keep it out of ours: docs/decisions/0021):

    python benchmarks/section_library_values.py

Writes tests/published/section_library/values.csv: how each outline is made, then what the
library says of it.
"""

import csv
import math
import random
from importlib.metadata import version
from pathlib import Path

VALUES = Path(__file__).parents[1] / "tests/published/section_library/values.csv"
N_OUTLINES = 200
N_POINTS = 48
RECIPE = (
    "a", "b", "wave2", "turn2", "wave3", "turn3", "wave5", "turn5",
    "hollow", "hole_x", "hole_y", "hole_wave", "hole_turn",
)  # fmt: skip
FOUND = (
    "area", "x", "y", "ixx", "iyy", "ixy", "zx_upper", "zx_lower", "zy_right", "zy_left",
    "i11", "i22", "z11", "z22", "j",
)  # fmt: skip


def recipe(number: int) -> dict[str, float]:
    """Draw how one outline is made; rounded, so that the file says all of it."""
    draw = random.Random(number)  # noqa: S311 - no secrets here
    a = draw.uniform(4, 30)
    values = {
        "a": a,
        "b": a * draw.uniform(0.6, 1.0),
        "wave2": draw.uniform(0, 0.05),
        "turn2": draw.uniform(0, 6.28),
        "wave3": draw.uniform(0, 0.05),
        "turn3": draw.uniform(0, 6.28),
        "wave5": draw.uniform(0, 0.02),
        "turn5": draw.uniform(0, 6.28),
        "hollow": draw.uniform(0.3, 0.85),
        "hole_x": 0.0,
        "hole_y": 0.0,
        "hole_wave": draw.uniform(0, 0.05),
        "hole_turn": draw.uniform(0, 6.28),
    }
    room = 0.35 * (1 - values["hollow"])
    values["hole_x"] = values["a"] * draw.uniform(-room, room)
    values["hole_y"] = values["b"] * draw.uniform(-room, room)
    return {name: round(value, 4) for name, value in values.items()}


def rings(made: dict[str, float]) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Draw the outer ring and the hole of a recipe."""
    outer, hole = [], []
    for place in range(N_POINTS):
        angle = 2 * math.pi * place / N_POINTS
        wave = 1 + sum(made[f"wave{n}"] * math.cos(n * angle + made[f"turn{n}"]) for n in (2, 3, 5))
        outer.append((made["a"] * wave * math.cos(angle), made["b"] * wave * math.sin(angle)))
        wave = made["hollow"] * (1 + made["hole_wave"] * math.cos(3 * angle + made["hole_turn"]))
        hole.append(
            (
                made["hole_x"] + made["a"] * wave * math.cos(angle),
                made["hole_y"] + made["b"] * wave * math.sin(angle),
            )
        )
    return outer, hole


def main() -> None:
    import shapely
    from sectionproperties.analysis import Section
    from sectionproperties.pre import Geometry

    with VALUES.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow((*RECIPE, *FOUND))
        for number in range(N_OUTLINES):
            made = recipe(number)
            outer, hole = rings(made)
            shape = shapely.Polygon(outer, [hole])
            geometry = Geometry(shape).create_mesh(mesh_sizes=[shape.area / 3000])
            section = Section(geometry)
            section.calculate_geometric_properties()
            section.calculate_warping_properties()
            x, y = section.get_c()
            ixx, iyy, ixy = section.get_ic()
            i11, i22, _ = section.get_ip()[0], section.get_ip()[1], None
            zxx_upper, zxx_lower, zyy_right, zyy_left = section.get_z()
            z11 = section.get_zp()
            found = (
                section.get_area(), x, y, ixx, iyy, ixy,
                zxx_upper, zxx_lower, zyy_right, zyy_left,
                i11, i22, min(z11[0], z11[1]), min(z11[2], z11[3]), section.get_j(),
            )  # fmt: skip
            table.writerow(
                (*(f"{made[name]:.4f}" for name in RECIPE), *(f"{value:.9g}" for value in found))
            )
    print(f"sectionproperties {version('sectionproperties')}: {N_OUTLINES} outlines")


if __name__ == "__main__":
    main()
