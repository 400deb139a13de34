from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bonewright.attribution import attribute
from bonewright.comparison import Inputs, Moved, changes_between, what_moved
from bonewright.quantity import Quantity
from bonewright.remembering import StepMemory
from bonewright.report.compared import (
    Compared,
    compare_inputs,
    moved_words,
    share_words,
    worth_telling,
)
from bonewright.report.kept_runs import inputs_of
from bonewright.report.wording import value_words

Copy = Callable[[str], Path]
MASS = "judgement.mass"


def with_cell(inputs: Inputs, name: str, *, row: int, column: str, value: str) -> Inputs:
    table = inputs.raw[name]
    place = table.header.index(column)
    cells = list(table.rows[row])
    cells[place] = value
    rows = (*table.rows[:row], tuple(cells), *table.rows[row + 1 :])
    return replace(inputs, raw=inputs.raw.with_table(replace(table, rows=rows)))


def heavier(inputs: Inputs) -> Inputs:
    """The modelled body a tenth larger: it moves the mass."""
    place = inputs.raw["bodies"].header.index("measurementValue")
    value = float(inputs.raw["bodies"].rows[0][place]) * 1.1
    return with_cell(inputs, "bodies", row=0, column="measurementValue", value=f"{value:.4f}")


def denser(inputs: Inputs) -> Inputs:
    choices = inputs.settings.choices
    density = choices.body_density.model_copy(update={"value": 1.0})
    settings = inputs.settings.model_copy(
        update={"choices": choices.model_copy(update={"body_density": density})}
    )
    return replace(inputs, settings=settings)


def test_the_same_inputs_move_nothing(few_draws: Copy, memory: StepMemory) -> None:
    inputs = inputs_of(few_draws("one"))
    compared = compare_inputs(inputs, inputs, memory=memory)
    assert compared.changes == ()
    assert compared.moved == ()


def test_one_edited_cell_is_named_and_takes_the_whole_movement(
    few_draws: Copy, memory: StepMemory
) -> None:
    before = inputs_of(few_draws("one"))
    after = heavier(before)
    compared = compare_inputs(before, after, memory=memory)
    (change,) = compared.changes
    assert change.table == "bodies"
    (mass,) = [moved for moved in compared.moved if moved.key == MASS]
    assert mass.by is not None
    assert mass.by > 0.02
    (share,) = compared.shares[MASS]
    assert share.by == pytest.approx(mass.by, abs=1e-9)
    assert change.words.startswith("Body models: v-01 changed (")
    assert "measurementValue" not in change.words
    # With one change there is nothing to share out.
    assert share_words((share,)) == ()
    assert "because of" in share_words((share, share))[0]


def test_shares_of_several_changes_add_up_to_the_movement(
    few_draws: Copy, memory: StepMemory
) -> None:
    before = inputs_of(few_draws("one"))
    after = denser(heavier(before))
    after = with_cell(after, "claims", row=0, column="statement", value="runs over stones, fast")
    compared = compare_inputs(before, after, memory=memory)
    assert len(compared.changes) == 3
    moved = {item.key: item.by for item in compared.moved}
    shares = {share.change.words: share.by for share in compared.shares[MASS]}
    assert sum(shares.values()) == pytest.approx(moved[MASS], abs=1e-9)
    (words,) = [words for words in shares if words.startswith("Claims")]
    assert shares[words] == pytest.approx(0, abs=1e-9)
    assert shares["study.toml: choices.body_density (value 0.95 to 1.0)"] > 0.01


def test_three_readings_of_one_body_share_alike_however_much_else_was_changed(
    few_draws: Copy, memory: StepMemory
) -> None:
    before = inputs_of(few_draws("one"))
    after = before
    for row in (0, 1, 2):
        # The same reading three times: what moves their middle is no single one of them.
        before = with_cell(before, "bodies", row=row, column="measurementValue", value="270")
        after = with_cell(after, "bodies", row=row, column="measurementValue", value="350")
    for row in (1, 2, 4):
        after = with_cell(after, "claims", row=row, column="claimRemarks", value="read again")
    compared = compare_inputs(before, after, memory=memory)
    assert len(compared.changes) == 6
    moved = {item.key: item.by for item in compared.moved}
    *readings, idle = compared.shares[MASS]
    assert idle.change.words == "3 changes that hardly count one by one"
    assert idle.by == pytest.approx(0, abs=1e-9)
    for share in readings:
        assert share.by == pytest.approx((moved[MASS] or 0) / 3, rel=1e-6)


def test_a_row_that_cannot_stand_alone_gives_its_effect_to_the_row_that_completes_it(
    few_draws: Copy, memory: StepMemory
) -> None:
    before = inputs_of(few_draws("one"))
    specimens, measurements = before.raw["specimens"], before.raw["measurements"]
    bone = next(
        dict(zip(specimens.header, row, strict=True))
        for row in specimens.rows
        if row[specimens.header.index("element")] == "femur"
        and row[specimens.header.index("organismID")] == ""
    )
    name = bone["materialEntityID"]
    model = next(
        dict(zip(measurements.header, row, strict=True))
        for row in measurements.rows
        if row[measurements.header.index("measurementType")] == "Bp"
    )
    new_bone = {**bone, "materialEntityID": "bone-new", "catalogNumber": "new"}
    new_size = {**model, "measurementID": "m-new", "materialEntityID": "bone-new"}
    raw = before.raw
    for table, cells in ((specimens, new_bone), (measurements, new_size)):
        row = tuple(cells[column] for column in table.header)
        raw = raw.with_table(table.with_rows((*table.rows, row)))
    after = replace(before, raw=raw)
    changes = changes_between(before, after)
    assert {change.rows for change in changes} == {("bone-new",), ("m-new",)}
    assert name != "bone-new"
    shares = attribute(before, after, changes=changes, keys=[MASS], memory=memory)
    total = sum(share.by for share in shares[MASS])
    first, last = (
        {
            finding.key: finding.value.summary()
            for finding in inputs.run(memory).findings
            if isinstance(finding.value, Quantity)
        }[MASS]
        for inputs in (before, after)
    )
    half = (first.interval95[1] - first.interval95[0]) / 2
    assert total == pytest.approx((last.median - first.median) / half, abs=1e-9)


def test_an_edit_computes_only_the_steps_it_reaches(few_draws: Copy, memory: StepMemory) -> None:
    before = inputs_of(few_draws("one"))
    before.run(memory)
    memory.computed.clear()
    # A claim without a likelihood ratio, which reaches no hypothesis.
    claim = with_cell(before, "claims", row=1, column="statement", value="it never flies")
    run = claim.run(memory)
    assert set(memory.computed) == {"testimony"}
    fresh = claim.run(StepMemory())
    assert what_moved(run.findings, fresh.findings, write=value_words) == ()


def test_of_two_long_wordings_only_what_differs_is_told() -> None:
    same = "The independent lines of evidence agree within their uncertainty as they should: "
    before, after = (
        f"{same}leg bones 17 kg, maquette {kg} kg, and the grown body about 13 kg, as was found"
        for kg in (16, 18)
    )
    moved = Moved(key="k", title="t", before=before, after=after, by=None)
    assert moved_words(moved) == (
        "… should: leg bones 17 kg, maquette 16 kg, and the grown body about …"
        " → … should: leg bones 17 kg, maquette 18 kg, and the grown body about …"
    )
    short = Moved(key="k", title="t", before="could run", after="could not run", by=None)
    assert moved_words(short) == "could run → could not run"


def test_odds_are_told_first_where_they_move_by_a_percent_and_not_at_all_below() -> None:
    told = Moved(key="judgement.odds.a", title="a", before="40 %", after="60 %", by=None, step=20.0)
    small = Moved(
        key="judgement.odds.b", title="b", before="0.1 %", after="0.2 %", by=None, step=0.1
    )
    other = Moved(key="judgement.q", title="q", before="1.0", after="2.0", by=None, step=1.0)
    alike = Moved(key="judgement.p", title="p", before="1.0", after="1.0", by=None, step=1e-5)
    compared = Compared(changes=(), moved=(other, alike, small, told), shares={})
    assert worth_telling(compared) == (told, other)


def test_words_and_numbers_that_differ_by_rounding_are_not_told() -> None:
    def moved(before: str, after: str) -> Moved:
        return Moved(key="body.k", title="t", before=before, after=after, by=None)

    jitter = (
        moved("88.6 %", "88.7 %"),
        moved(
            "as built to (found 32.9 mm, built to 32.63 mm).",
            "as built to (found 32.9 mm, built to 32.61 mm).",
        ),
    )
    real = (
        moved("13.9 %", "18.2 %"),
        moved("pairs: bone-001 with bone-056", "pairs: bone-001 with bone-070"),
        moved("could run", "could not run"),
    )
    assert worth_telling(Compared(changes=(), moved=(*jitter, *real), shares={})) == real
