"""Hoops to cut from card: each at true scale, named by segment and station, packed on sheets."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely import Point, Polygon

from bonewright.errors import OutsideRange
from bonewright.quantity import Draws
from bonewright.workshop.dimensions import number
from bonewright.workshop.drawing import Drawing, Line, Words, closed_line, open_line
from bonewright.workshop.figure_to_build import FigureToBuild, Hoop, SegmentToBuild
from bonewright.workshop.hoop_names import hoops_on_cards
from bonewright.workshop.paper import MARGIN_MM, STRIP_MM, Paper

__all__ = ["Bar", "HoopCard", "card_sheets", "hoop_cards"]

_GAP_MM: Final = 5.0
_LETTERS_MM: Final = 2.6
_LEAST_HOLE_MM: Final = 1.5
# Cosine of the angle between bar and the card's axis, from which on the bar passes through.
_STEEP: Final = 0.4
# On a card narrower than this the name stands below it.
_SMALL_MM: Final = 26.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bar:
    """A bar of the armature: its corners (n, 3) in the figure, and its diameter, mm."""

    points_mm: Draws
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoopCard:
    """One card: its name, how many to cut, its outline (n, 2) mm and its drawing."""

    name: str
    copies: int
    segment: SegmentToBuild
    hoop: Hoop
    outline_mm: Draws
    drawing: Drawing


def hoop_cards(
    figure: FigureToBuild,
    within: FigureToBuild | None,
    *,
    covering_mm: float,
    bars: Sequence[Bar] = (),
) -> tuple[HoopCard, ...]:
    """Draw a card for every hoop that is large enough to cut.

    Parameters
    ----------
    covering_mm : float
        How far inside the surface the card's edge lies, for clay or skin laid over it; 0 for
        clay that is filled in flush between the cards.
    bars : sequence of Bar
        The armature, which the cards are threaded on.

    Raises
    ------
    OutsideRange
        If the covering leaves nothing of the largest hoop.
    """
    cards = []
    for name, segment, hoop in hoops_on_cards(within or figure):
        inner = _drawn_in(hoop.outline_mm(), covering_mm)
        if inner is None:
            continue
        outer = None
        if within is not None:
            beyond = figure.segment(segment.label).hoops
            same = [h for h in beyond if abs(h.station - hoop.station) < 1e-6]
            outer = same[0].outline_mm() if same else None
        cards.append(
            HoopCard(
                name=name,
                copies=1 if segment.side == "middle" else 2,
                segment=segment,
                hoop=hoop,
                outline_mm=inner,
                drawing=_card(name, segment, hoop, inner, outer, _holes(hoop, inner, bars)),
            )
        )
    if not cards and hoops_on_cards(within or figure):
        raise OutsideRange(
            f"A covering of {covering_mm:g} mm leaves nothing of any hoop.",
            remedy="Give a thinner covering, or build larger.",
        )
    return tuple(cards)


def _drawn_in(outline: Draws, by_mm: float) -> Draws | None:
    if by_mm <= 0:
        return outline
    inner = Polygon(outline).buffer(-by_mm)
    if inner.is_empty or inner.geom_type != "Polygon" or inner.area < 50.0:
        return None
    return np.asarray(inner.exterior.coords[:-1])


def _card(
    name: str,
    segment: SegmentToBuild,
    hoop: Hoop,
    inner: Draws,
    outer: Draws | None,
    holes: Sequence[tuple[float, float, float]],
) -> Drawing:
    lines: list[Line] = []
    if outer is not None:
        lines.append(closed_line(outer, "fold"))
    lines.append(closed_line(inner, "cut"))
    lines += [_circle(x, y, across / 2) for x, y, across in holes]
    low, high = inner[:, 1].min(), inner[:, 1].max()
    left, right = inner[:, 0].min(), inner[:, 0].max()
    lines += [open_line(((0, low), (0, high)), "fold"), open_line(((left, 0), (right, 0)), "fold")]
    # An arrow points to the dorsal side.
    tip, half = high - 0.08 * (high - low), 0.02 * (high - low) + 0.8
    lines.append(open_line(((-half, tip - 2 * half), (0, tip), (half, tip - 2 * half)), "ground"))
    size = float(np.clip(0.09 * (right - left), 1.8, 6.0))
    copies = "" if segment.side == "middle" else " · cut 2"
    small = right - left < _SMALL_MM
    words = []
    if not small:
        words.append(
            Words(
                text=name,
                at=(0.12 * left, 0.16 * high),
                size_mm=1.5 * size,
                anchor="end",
                strong=True,
            )
        )
    below = (
        *((name,) if small else ()),
        f"{segment.segment} {100 * hoop.station:.0f} %{copies}",
        f"{number(float(right - left))} × {number(float(high - low))}",
    )
    least = min(size, _LETTERS_MM)
    bottom = min(low, outer[:, 1].min() if outer is not None else low)
    words += [
        Words(
            text=text,
            at=(0.0, float(bottom) - (row + 1) * 1.25 * least),
            size_mm=least,
            anchor="middle",
            strong=text == name,
        )
        for row, text in enumerate(below)
    ]
    return Drawing(title=f"Hoop {name}", lines=tuple(lines), words=tuple(words))


def _holes(hoop: Hoop, inner: Draws, bars: Sequence[Bar]) -> list[tuple[float, float, float]]:
    """Return where bars pass through a card, and how wide: left, dorsal, diameter, mm.

    A bar that lies nearly in the card's plane makes no round hole and is left out.
    """
    within = Polygon(inner)
    holes: list[tuple[float, float, float]] = []
    for bar in bars:
        heights = (bar.points_mm - hoop.centre_mm) @ hoop.axis
        for start, end, low, high in zip(
            bar.points_mm[:-1], bar.points_mm[1:], heights[:-1], heights[1:], strict=True
        ):
            if low * high > 0 or low == high:
                continue
            steep = abs(high - low) / float(np.linalg.norm(end - start))
            if steep < _STEEP:
                continue
            at = start + (end - start) * low / (low - high) - hoop.centre_mm
            x, y = float(at @ hoop.across), float(at @ hoop.dorsal)
            across = max(bar.diameter_mm / steep, _LEAST_HOLE_MM)
            if within.contains(Point(x, y).buffer(across / 2)) and not any(
                np.hypot(x - other[0], y - other[1]) < across for other in holes
            ):
                holes.append((x, y, across))
    return holes


def _circle(x: float, y: float, radius: float) -> Line:
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return closed_line(np.array([x, y]) + radius * np.stack((np.cos(turn), np.sin(turn)), 1), "cut")


def card_sheets(cards: tuple[HoopCard, ...], paper: Paper) -> tuple[Drawing, ...]:
    """Pack cards on sheets in rows; one that is larger than a sheet gets a drawing of its own."""
    if paper.rolled:
        width, height = paper.width_mm - 2 * MARGIN_MM, 4 * paper.width_mm
    else:
        width = paper.width_mm - 2 * MARGIN_MM
        height = paper.height_mm - 2 * MARGIN_MM - STRIP_MM
    width, height = width - 2.0, height - 2.0
    sheets: list[Drawing] = []
    filled: list[list[Drawing]] = []
    x, y, row = 0.0, 0.0, 0.0
    for card in cards:
        left, right, bottom, top = card.drawing.extent()
        wide, high = right - left, top - bottom
        if wide > width or high > height:
            sheets.append(card.drawing)
            continue
        if x + wide > width:
            x, y, row = 0.0, y + row + _GAP_MM, 0.0
        if not filled or y + high > height:
            filled.append([])
            x, y, row = 0.0, 0.0, 0.0
        filled[-1].append(card.drawing.moved(x - left, -y - top))
        x, row = x + wide + _GAP_MM, max(row, high)
    packed = [
        Drawing(
            title="Hoops to cut from card",
            lines=tuple(line for one in sheet for line in one.lines),
            words=tuple(words for one in sheet for words in one.words),
        )
        for sheet in filled
    ]
    return (*packed, *sheets)
