"""Short names of hoops: letters of the segment and the hoop's number, as T3 or TH2."""

import numpy as np

from bonewright.workshop.figure_to_build import FigureToBuild, Hoop, SegmentToBuild

__all__ = ["LEAST_CARD_MM", "hoops_on_cards", "segment_letters"]

# A hoop smaller than this is no use as a card: the form is taken from the drawing by eye.
LEAST_CARD_MM = 12.0
# Cosine of the angle between two planes that are taken for one.
_ALIKE = 0.97


def segment_letters(figure: FigureToBuild) -> dict[str, str]:
    """Return letters for each segment of the plan, no two alike, in the plan's order."""
    letters: dict[str, str] = {}
    for segment in figure.segments:
        name = segment.segment
        if name in letters:
            continue
        words = name.upper().split()
        initials = "".join(word[0] for word in words)
        tried = [initials] + [
            words[0][:long] + "".join(word[0] for word in words[1:])
            for long in range(2, len(words[0]) + 1)
        ]
        letters[name] = next(
            (short for short in tried if short not in letters.values()), name.upper()
        )
    return letters


def hoops_on_cards(figure: FigureToBuild) -> list[tuple[str, SegmentToBuild, Hoop]]:
    """Return every hoop worth a card with its short name; of pairs those of the left side.

    A hoop in which two segments meet is given once, with the first of them.
    """
    letters = segment_letters(figure)
    cards: list[tuple[str, SegmentToBuild, Hoop]] = []
    for segment in figure.segments:
        if segment.side == "right":
            continue
        for hoop in segment.hoops:
            if min(2 * hoop.half_width_mm, hoop.dorsal_mm + hoop.ventral_mm) < LEAST_CARD_MM:
                continue
            if any(_alike(hoop, earlier) for _, _, earlier in cards):
                continue
            cards.append((f"{letters[segment.segment]}{hoop.number}", segment, hoop))
    return cards


def _alike(hoop: Hoop, earlier: Hoop) -> bool:
    """Say whether two segments meet in this hoop: the same place, nearly the same plane."""
    apart = float(np.linalg.norm(hoop.centre_mm - earlier.centre_mm))
    return apart < 0.15 * hoop.half_width_mm and abs(float(hoop.axis @ earlier.axis)) > _ALIKE
