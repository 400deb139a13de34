"""The order list: everything to buy, packs counted, as rows for a spreadsheet."""

import csv
import datetime
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bonewright.study.spreadsheet_text import harmless
from bonewright.study.workshop_rows import BuildMaterial
from bonewright.workshop.amounts import Amount, joined_sources
from bonewright.workshop.armature import Armature
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.cut_list import CutPlan
from bonewright.workshop.materials import Materials
from bonewright.workshop.standing import BaseBoard

__all__ = ["OrderLine", "order_csv", "order_lines", "order_xlsx"]

HEADER: Final = (
    "Item",
    "For",
    "Needed",
    "From",
    "To",
    "Unit",
    "Waste (%)",
    "Order",
    "Pack",
    "Packs",
    "How it was got",
    "Source",
)
# What a spreadsheet would take for the beginning of a formula.


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One thing to buy: ``order`` holds the waste, ``packs`` how many packs of ``pack``."""

    item: str
    purpose: str
    needed: Amount
    waste_percent: float
    order: float
    pack: float | None
    packs: int

    def cells(self) -> tuple[str | float, ...]:
        """Return the row, numbers as numbers."""
        return (
            self.item,
            self.purpose,
            _rounded(self.needed.value),
            _rounded(self.needed.low),
            _rounded(self.needed.high),
            self.needed.unit,
            self.waste_percent,
            _rounded(self.order),
            "" if self.pack is None else self.pack,
            self.packs,
            self.needed.how,
            self.needed.source,
        )


def order_lines(
    *,
    materials: Materials,
    armature: Armature,
    cuts: dict[str, CutPlan],
    base: BaseBoard,
    rules: BuildRules,
    cast: bool,
) -> tuple[OrderLine, ...]:
    """List what a figure takes.

    Parameters
    ----------
    cuts : dict from stock to CutPlan
    cast : bool
        Whether moulds are taken and their silicone and plaster ordered.
    """
    lines = [*_bars(armature, cuts)]
    uses = dict.fromkeys(u for s in materials.filling.segments for u in s.mass_kg)
    for use in uses:
        lines.append(_of(rules.material(use), materials.filling.used(use), "the figure"))
    if cast:
        how = "layer around each segment x density"
        silicone = _total([mould.silicone_kg for mould in materials.moulds], how=how)
        plaster = _total([mould.plaster_kg for mould in materials.moulds], how=how)
        lines.append(_of(rules.material("silicone"), silicone, "moulds, one a segment"))
        lines.append(_of(rules.material("plaster"), plaster, "jackets of the moulds"))
    lines += _cast_parts(materials, rules)
    spare = rules.limit("spare feathers (%)")
    for feathers in materials.feathers:
        lines.append(
            OrderLine(
                item=f"feathers, about {feathers.length_mm.value:.0f} mm long",
                purpose=feathers.tract,
                needed=feathers.count,
                waste_percent=spare,
                order=feathers.to_order,
                pack=None,
                packs=feathers.to_order,
            )
        )
    paint = rules.material("paint")
    lines.append(_of(paint, materials.paint_l, "what is bare"))
    lines.append(_of(rules.material("base"), base.mass_kg, "the base board"))
    return _joined_by_item(lines)


def _joined_by_item(lines: Sequence[OrderLine]) -> tuple[OrderLine, ...]:
    """Order the same thing once, for all it is needed for."""
    by_item: dict[str, list[OrderLine]] = {}
    for line in lines:
        by_item.setdefault(line.item, []).append(line)
    return tuple(_one_line(same) if len(same) > 1 else same[0] for same in by_item.values())


def _one_line(same: Sequence[OrderLine]) -> OrderLine:
    first, order = same[0], sum(line.order for line in same)
    return replace(
        first,
        purpose=", ".join(line.purpose for line in same),
        needed=_total(
            [line.needed for line in same],
            how="; ".join(dict.fromkeys(line.needed.how for line in same)),
        ),
        order=order,
        packs=int(order) if first.pack is None else _packs(order, first.pack),
    )


def _packs(order: float, pack: float) -> int:
    return max(int(np.ceil(order / pack - 1e-9)), 1)


def _total(parts: Sequence[Amount], *, how: str) -> Amount:
    return Amount(
        value=sum(part.value for part in parts),
        low=sum(part.low for part in parts),
        high=sum(part.high for part in parts),
        unit=parts[0].unit,
        how=how,
        source=joined_sources(*(part.source for part in parts)),
    )


def _of(material: BuildMaterial, needed: Amount, purpose: str) -> OrderLine:
    order = needed.value * (1 + material.waste_percent / 100)
    return OrderLine(
        item=material.material,
        purpose=purpose,
        needed=needed,
        waste_percent=material.waste_percent,
        order=order,
        pack=material.pack,
        packs=_packs(order, material.pack),
    )


def _cast_parts(materials: Materials, rules: BuildRules) -> list[OrderLine]:
    lines = []
    for part in materials.parts:
        if part.resin_kg is not None:
            lines.append(_of(rules.material("resin"), part.resin_kg, part.part))
        elif part.size_mm is not None:
            lines.append(
                OrderLine(
                    item=f"{part.part}, {part.size_mm.words()} across",
                    purpose="the head",
                    needed=Amount(
                        value=part.count,
                        low=part.count,
                        high=part.count,
                        unit="pieces",
                        how=part.size_mm.how,
                        source=part.size_mm.source,
                    ),
                    waste_percent=0.0,
                    order=part.count,
                    pack=None,
                    packs=part.count,
                )
            )
    return lines


def _bars(armature: Armature, cuts: dict[str, CutPlan]) -> list[OrderLine]:
    stock = {bar.stock.stock_id: bar.stock for bar in armature.bars}
    lines = []
    for stock_id, plan in cuts.items():
        for length, count in sorted(Counter(bar.stock_mm for bar in plan.bars).items()):
            bars = [bar for bar in plan.bars if bar.stock_mm == length]
            used = sum(piece for bar in bars for _, piece in bar.pieces)
            left = sum(bar.left_mm for bar in bars)
            lines.append(
                OrderLine(
                    item=f"{stock_id}, {length:g} mm long",
                    purpose=f"armature; {left:.0f} mm left over",
                    needed=Amount(
                        value=used,
                        low=used,
                        high=used,
                        unit="mm",
                        how="pieces of the cut list, overlaps and fixings in them",
                        source=stock[stock_id].source,
                    ),
                    waste_percent=round(100 * max(count * length - left - used, 0) / used, 1),
                    order=count * length,
                    pack=length,
                    packs=count,
                )
            )
    return lines


def _rounded(value: float) -> float:
    """Keep three digits."""
    return float(f"{value:.3g}") if abs(value) < 1000 else float(round(value))


def order_csv(lines: Sequence[OrderLine]) -> bytes:
    """Return the list as CSV in UTF-8 with a mark at its start, as spreadsheets expect.

    A text that a spreadsheet would run as a formula begins with an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    for line in lines:
        writer.writerow([harmless(cell) for cell in line.cells()])
    return out.getvalue().encode("utf-8-sig")


def order_xlsx(lines: Sequence[OrderLine]) -> bytes:
    """Return the list as a workbook; texts are texts, whatever they begin with."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(
        out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    # The same order gives the same file.
    book.set_properties({"created": datetime.datetime(2000, 1, 1, tzinfo=datetime.UTC)})
    sheet = book.add_worksheet("Order list")
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    plain = book.add_format({"text_wrap": True, "valign": "top"})
    for column, head in enumerate(HEADER):
        sheet.write_string(0, column, head, bold)
    for row, line in enumerate(lines, start=1):
        for column, cell in enumerate(line.cells()):
            if isinstance(cell, str):
                sheet.write_string(row, column, cell, plain)
            else:
                sheet.write_number(row, column, cell, plain)
    sheet.set_column(0, 1, 30)
    sheet.set_column(2, 9, 10)
    sheet.set_column(10, 11, 44)
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    book.close()
    return out.getvalue()
