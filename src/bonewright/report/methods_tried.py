"""The slow proof as a page of Markdown, for the terminal and the results folder."""

from collections.abc import Iterable, Sequence

from bonewright.relatives.lines_compared import BoneLines, GroupTest
from bonewright.relatives.methods_compared import MethodScore
from bonewright.relatives.methods_tried import MethodsTried
from bonewright.report.wording import bone_words

__all__ = ["methods_page"]

_INTRODUCTION = (
    "Every method foretold relatives of known mass that it had not seen, refitted each time. In"
    " each cell: median error; foretold over known mass (geometric mean); share of known masses"
    " inside the 95 % intervals; half the interval as a factor."
)


def methods_page(tried: MethodsTried, *, title: str, invented: bool) -> str:
    """Return the page."""
    bones = ", ".join(bone_words(bone) for bone in tried.bones)
    parts = [f"# Methods tried on the relatives: {title}"]
    if invented:
        parts.append("An invented demonstration study: no real animal, place or collection.")
    parts += [
        f"{_INTRODUCTION} Bones together: {bones}; {tried.n_species} species.",
        _scores(tried.scores),
        "## The line of each bone",
        _lines_words(tried.n_trees),
        _lines(tried.lines, trees=tried.n_trees > 1),
    ]
    if tried.groups:
        parts += [
            "## Flightless species beside the others",
            "Common slope of symmetric lines with its 95 % limits; how probably chance alone would"
            " make the two slopes, and the two lines, differ as much.",
            _groups(tried.groups),
        ]
    return "\n\n".join(parts) + "\n"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(row) + " |" for row in (heads, ["---"] * len(heads), *rows)]
    return "\n".join(lines)


def _scores(scores: Sequence[MethodScore]) -> str:
    tests = list(dict.fromkeys(score.test for score in scores))
    methods = list(dict.fromkeys(score.method for score in scores))
    found = {(score.method, score.test): score for score in scores}
    notes = dict.fromkeys(f"{score.method}: {score.why_not}" for score in scores if score.why_not)
    rows = [[method, *(_cell(found[method, test]) for test in tests)] for method in methods]
    heads = ["method", *(f"{test} (n = {_most(scores, test)})" for test in tests)]
    return "\n\n".join([_table(heads, rows), *(f"No answer by {note}" for note in notes)])


def _most(scores: Sequence[MethodScore], test: str) -> int:
    return max(score.n for score in scores if score.test == test)


def _cell(score: MethodScore) -> str:
    if score.why_not:
        return "no answer"
    return (
        f"{score.error_percent:.1f} %; {score.mean_ratio:.2f}; {score.coverage_percent:.0f} %;"
        f" ×{score.width:.2f}"
    )


def _lines_words(n_trees: int) -> str:
    text = (
        "Slopes of ln mass on ln bone with 95 % limits: by least squares; by the standardised major"
        " axis, which treats both alike; on the tree, with Pagel's lambda (0: kinship tells"
        " nothing; 1: all)."
    )
    if n_trees > 1:
        text += f" Over the {n_trees} trees: where the middle 90 % of slopes and lambdas lie."
    return text


def _limits(value: tuple[float, float, float]) -> str:
    return f"{value[0]:.2f} ({value[1]:.2f} to {value[2]:.2f})"


def _lines(lines: Sequence[BoneLines], *, trees: bool) -> str:
    heads = ["bone", "n", "least squares", "symmetric", "on the tree", "lambda"]
    if trees:
        heads += ["slope over trees", "lambda over trees"]
    rows = []
    for line in lines:
        row = [bone_words(line.bone), str(line.n)]
        row += [_limits(line.least_squares), _limits(line.major_axis), _limits(line.on_tree)]
        row.append(_limits(line.scale))
        if trees and line.over_trees is not None:
            low, high, scale_low, scale_high = line.over_trees
            row += [f"{low:.2f} to {high:.2f}", f"{scale_low:.2f} to {scale_high:.2f}"]
        rows.append(row)
    return _table(heads, rows)


def _groups(groups: Sequence[GroupTest]) -> str:
    rows = [
        [
            bone_words(test.bone),
            f"{test.n[0]} and {test.n[1]}",
            _limits(test.common),
            f"{test.slope_p:.2g}",
            f"{test.elevation_p:.2g}",
        ]
        for test in groups
    ]
    return _table(["bone", "n", "common slope", "slopes, p", "lines, p"], rows)
