"""The tree's tips against the table of relatives."""

from collections.abc import Iterable

__all__ = ["compare_tips"]


def compare_tips(
    species: Iterable[str], tips: Iterable[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the species that the tree lacks, and the tips that the table lacks.

    Underscores are spaces, and capitals and further spaces do not count.
    """
    wanted = {_plain(name): name for name in species}
    found = {_plain(name): name for name in tips}
    return (
        tuple(wanted[name] for name in wanted if name not in found),
        tuple(found[name] for name in found if name not in wanted),
    )


def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").split()).casefold()
