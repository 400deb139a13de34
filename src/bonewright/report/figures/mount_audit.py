"""The measures of an earlier mount over what bone and soft tissue let expect."""

import altair as alt

from bonewright.report.figures.figure import Chart, data_of, key_panel
from bonewright.report.figures.intervals import padded_log_domain, ratio_ticks
from bonewright.report.theme import BAND, FAINT, INK, LOST, VERDICT
from bonewright.report.wording import plural
from bonewright.testimony.witnesses import TestimonyResult

__all__ = ["mount_audit", "mount_audit_caption", "mount_audit_words", "told_apart"]

_WIDTH = 250
_LABELS = 340


def told_apart(titles: list[str], names: list[str]) -> list[str]:
    """Give titles that stand twice their rows' own names."""
    # A title that stands twice gets the row's own name, so that each has its place.
    return [
        title if titles.count(title) == 1 else f"{title} ({name})"
        for title, name in zip(titles, names, strict=True)
    ]


def mount_audit(result: TestimonyResult) -> Chart:
    """Draw each measure of the mount over what bone and soft tissue let expect."""
    labels = told_apart(
        [check.title for check in result.mount], [check.measurement_id for check in result.mount]
    )
    rows = []
    for label, check in zip(labels, result.mount, strict=True):
        middle = check.found_mm / check.ratio
        rows.append(
            {
                "label": label,
                "ratio": check.ratio,
                "from": check.expected_mm[0] / middle,
                "to": check.expected_mm[1] / middle,
                "kind": "wrong" if check.wrong else "within reason",
                "words": f"{100 * (check.ratio - 1):+.0f} %".replace("-", "−"),
            }
        )
    domain = padded_log_domain(
        [float(str(row[e])) for row in rows for e in ("ratio", "from", "to")]
    )
    scale = alt.Scale(type="log", domain=list(domain), nice=False)
    axis = alt.Axis(
        title="Found / expected (ratio, logarithmic scale)",
        values=ratio_ticks(domain),
        format=".2~f",
        labelOverlap="greedy",
    )
    x = alt.X("ratio:Q", scale=scale, axis=axis)
    y = alt.Y(
        "label:N",
        sort=labels,
        title=None,
        axis=alt.Axis(ticks=False, domain=False, labelPadding=6, labelLimit=_LABELS),
    )
    kinds = ["within reason", "wrong"]
    layers: list[alt.Chart] = [
        alt.Chart(data_of(rows))
        .mark_rule(strokeWidth=9, color=BAND)
        .encode(x=alt.X("from:Q", scale=scale, axis=axis), x2="to:Q", y=y),
        alt.Chart(data_of([{"ratio": 1.0}])).mark_rule(color=FAINT).encode(x=x),
        alt.Chart(data_of(rows))
        .mark_point(filled=True, size=70, opacity=1)
        .encode(
            x=x,
            y=y,
            color=alt.Color(
                "kind:N", legend=None, scale=alt.Scale(domain=kinds, range=[VERDICT, LOST])
            ),
            shape=alt.Shape(
                "kind:N",
                title=None,
                scale=alt.Scale(domain=kinds, range=["circle", "cross"]),
                legend=None,
            ),
        ),
        alt.Chart(data_of(rows))
        .mark_text(align="left", baseline="middle", color=INK)
        .encode(x=alt.value(_WIDTH + 10), y=y, text="words:N"),
    ]
    key = (("within reason", "circle", VERDICT, True), ("wrong", "cross", LOST, True))
    panel = alt.layer(*layers).properties(width=_WIDTH, height=19 * len(rows))
    return alt.vconcat(key_panel(key), panel, spacing=6)


def mount_audit_caption(result: TestimonyResult) -> str:
    """Say what the marks of the figure mean."""
    wrong = sum(check.wrong for check in result.mount)
    return (
        f"n = {plural(len(result.mount), 'measure')} of the earlier mount, {wrong} wrong. Shaded:"
        " 95 % of right mounts of single individuals, from bone plus what skin and flesh add;"
        " crosses: measures so odd that fewer than 1 in 100 right mounts would show them."
    )


def mount_audit_words(result: TestimonyResult) -> str:
    """Say the figure in words."""
    wrong = [check.words for check in result.mount if check.wrong]
    return f"Ratio of found to expected for {plural(len(result.mount), 'measure')}. " + (
        "Wrong: " + "; ".join(wrong) + "." if wrong else "None is wrong."
    )
