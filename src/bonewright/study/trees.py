"""The names at the tips of a tree of relatives (Newick or NEXUS, read by DendroPy)."""

from collections import Counter
from functools import lru_cache
from pathlib import Path

from bonewright.errors import Problem
from bonewright.study.raw import whole_file
from bonewright.study.spelling import shown

__all__ = ["read_tree_tips"]

_FEWEST_TIPS = 2


def read_tree_tips(path: Path, file: str) -> tuple[tuple[str, ...] | None, tuple[Problem, ...]]:
    """Read the species at the tips of the first tree in a file.

    Underscores stand for spaces, as both formats say; names in quotation marks are kept
    as they are but for that.

    Parameters
    ----------
    path : Path
        The file, known to exist inside the study.
    file : str
        Its name in the study, for problems.
    """
    status = path.stat()
    return _read_version(path, file, status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=16)
def _read_version(
    path: Path, file: str, changed_ns: int, size: int
) -> tuple[tuple[str, ...] | None, tuple[Problem, ...]]:
    del changed_ns, size  # they name the version of the file
    import dendropy
    from dendropy.utility.error import DataParseError

    try:
        text = path.read_bytes().decode("utf-8-sig")
        schema = "nexus" if text.lstrip()[:6].upper() == "#NEXUS" else "newick"
        trees = dendropy.TreeList.get(data=text, schema=schema)
        tips = [] if not trees else [leaf.taxon for leaf in trees[0].leaf_node_iter()]
    # A damaged tree breaks DendroPy's parser in many ways; all mean the same to the person.
    except (
        DataParseError,
        ValueError,
        TypeError,
        AttributeError,
        LookupError,
        RecursionError,
    ) as error:
        reason = " ".join(str(error).split()) or "it ends too early"
        return None, (_unreadable(file, f"a tree that cannot be read ({shown(reason)})"),)
    names = [" ".join(taxon.label.replace("_", " ").split()) for taxon in tips if taxon]
    if len(names) < _FEWEST_TIPS or len(names) != len(tips):
        found = f"{len(tips)} tips, {len(tips) - len(names)} of them without a name"
        return None, (_unreadable(file, found),)
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        return None, (_unreadable(file, f"the tip {shown(twice[0])} more than once"),)
    return tuple(names), ()


def _unreadable(file: str, found: str) -> Problem:
    return whole_file(
        file,
        found=found,
        expected="a tree in Newick or NEXUS with each species named once at its tips",
        mend="Export the tree anew from the program that made it.",
    )
