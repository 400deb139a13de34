"""The page of ``docs/`` that lists the workshop's own stock, materials, feathers and limits."""

from collections.abc import Iterable

from bonewright.study.workshop_defaults import BUILD_LIMITS, BUILD_MATERIALS, FEATHER_TRACTS, STOCK

__all__ = ["workshop_markdown"]


def workshop_markdown() -> str:
    """Write the page."""
    return "\n".join(
        [
            "# Stock, materials, feathers and limits of the workshop",
            "",
            "Generated from the program's own rows; a test fails when this page differs. Rows of"
            " `tables/stock.csv` replace the stock whole; rows of `build_materials.csv`,"
            " `feather_tracts.csv` and `build_limits.csv` replace those of the same name.",
            "",
            "## Limits and allowances",
            "",
            *_table(
                ("Limit", "Value", "What it means", "Source"),
                ((x.limit, f"{x.value:g}", x.meaning, x.source) for x in BUILD_LIMITS),
            ),
            "",
            "## Wire, bar and tube",
            "",
            *_table(
                (
                    "Stock",
                    "Length (mm)",
                    "Density (kg/L)",
                    "Elastic modulus (GPa)",
                    "Yield (MPa)",
                    "Source",
                ),
                (
                    (
                        x.stock_id,
                        f"{x.length_mm:g}",
                        f"{x.density_kg_m3 / 1000:g}",
                        f"{x.elastic_modulus_mpa / 1000:g}",
                        f"{x.yield_strength_mpa:g}",
                        x.source,
                    )
                    for x in STOCK
                ),
            ),
            "",
            "## Materials",
            "",
            *_table(
                ("Material", "Used as", "Density (kg/L)", "Waste (%)", "Pack", "Source"),
                (
                    (
                        x.material,
                        x.use,
                        f"{x.density_kg_m3 / 1000:g}"
                        f" ({x.low_kg_m3 / 1000:g} to {x.high_kg_m3 / 1000:g})",
                        f"{x.waste_percent:g}",
                        f"{x.pack:g} {'L' if x.use == 'paint' else 'kg'}",
                        x.source,
                    )
                    for x in BUILD_MATERIALS
                ),
            ),
            "",
            "## Feathers",
            "",
            *_table(
                ("Segment", "Tract", "Feathers per cm2", "Length over plumage depth", "Source"),
                (
                    (
                        x.segment,
                        x.tract,
                        f"{x.per_cm2:g} ({x.low_per_cm2:g} to {x.high_per_cm2:g})",
                        f"{x.length_over_depth:g}",
                        x.source,
                    )
                    for x in FEATHER_TRACTS
                ),
            ),
            "",
        ]
    )


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    return [
        f"| {' | '.join(head)} |",
        f"|{' --- |' * len(head)}",
        *(f"| {' | '.join(row)} |" for row in rows),
    ]
