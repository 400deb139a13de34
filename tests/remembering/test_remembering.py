import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from bonewright.errors import NotEnoughEvidence
from bonewright.remembering import Answered, NoMemory, StepMemory, fingerprint, recalled


@dataclass(frozen=True)
class Pair:
    first: object
    second: object


DIFFERENT = (
    1,
    1.0,
    True,
    None,
    "1",
    (1,),
    ("1",),
    ((1,),),
    Pair(None, (1,)),
    Pair((1,), None),
    Pair(None, None),
    {"a": 1},
    {"a": 1, "b": 2},
    {"b": 2, "a": 1},
    frozenset({1}),
    np.array([1.0]),
    np.array([1]),
    np.array([[1.0]]),
    np.random.default_rng(1),
    np.random.default_rng(2),
    Path("a"),
)


def test_what_differs_has_different_fingerprints() -> None:
    marks = [fingerprint(value) for value in DIFFERENT]
    assert len(set(marks)) == len(marks)


def test_what_is_alike_has_one_fingerprint_in_every_process() -> None:
    code = (
        "from bonewright.remembering import fingerprint\n"
        "print(fingerprint((frozenset({'a', 'b', 'c'}), {'x': 1.5}, 'é')))"
    )
    printed = {
        subprocess.run(  # noqa: S603 - our own interpreter and text
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert printed == {fingerprint((frozenset({"a", "b", "c"}), {"x": 1.5}, "é")) + "\n"}


def test_an_array_that_was_written_to_is_read_again() -> None:
    array = np.zeros(3)
    before = fingerprint(array)
    array[0] = 1
    assert fingerprint(array) != before


def test_a_look_into_an_array_that_can_be_written_to_is_read_again() -> None:
    array = np.zeros((2, 3))
    look = array[0]
    look.flags.writeable = False
    before = fingerprint(look)
    array[0, 0] = 1
    assert fingerprint(look) != before


def test_rows_that_differ_in_one_field_or_in_order_have_different_fingerprints() -> None:
    rows = tuple(Pair(f"row {number}", Pair(number, (0.5, None))) for number in range(30))
    other = (*rows[:29], Pair("row 29", Pair(29, (0.5, 0))))
    turned = (rows[1], rows[0], *rows[2:])
    marks = {fingerprint(rows), fingerprint(other), fingerprint(turned), fingerprint(rows[:29])}
    assert len(marks) == 4
    assert fingerprint(tuple(Pair(row.first, row.second) for row in rows)) == fingerprint(rows)


def zeros(number: int, size: int) -> np.ndarray:
    return np.full(size, float(number))


def test_of_large_parts_only_the_last_two_are_kept() -> None:
    zeros.__module__ = "bonewright.skeleton.made_up"
    memory = StepMemory()
    for size, kept in ((10, 5), (200_000, 2)):
        answers = [memory.recall_part(zeros, number, size) for number in range(5)]
        again = [memory.recall_part(zeros, number, size) for number in reversed(range(5))]
        assert sum(a is b for a, b in zip(answers, reversed(again), strict=True)) == kept


def test_a_generator_that_has_given_numbers_has_another_fingerprint() -> None:
    rng = np.random.default_rng(1)
    before = fingerprint(rng)
    rng.random()
    moved = fingerprint(rng)
    rng.spawn(1)
    assert len({before, moved, fingerprint(rng)}) == 3


def test_what_has_no_content_is_refused() -> None:
    with pytest.raises(TypeError):
        fingerprint(object())
    with pytest.raises(TypeError):
        fingerprint(np.array([object()]))


def test_a_step_is_computed_once_for_the_same_inputs() -> None:
    memory = StepMemory()
    calls = []

    def step(value: int) -> int:
        calls.append(value)
        return 2 * value

    assert [memory.recall("judgement", step, value) for value in (1, 1, 2, 1)] == [2, 2, 4, 2]
    assert calls == [1, 2]
    assert memory.computed == ["judgement", "judgement"]


def test_a_step_without_an_answer_is_not_tried_again() -> None:
    memory = StepMemory()
    calls = []

    def step() -> int:
        calls.append(1)
        raise NotEnoughEvidence("No.", needed="a", found="b", would_help="c")

    for _ in range(2):
        with pytest.raises(NotEnoughEvidence):
            memory.recall("judgement", step)
    assert len(calls) == 1


def test_the_answer_used_longest_ago_is_forgotten_first() -> None:
    memory = StepMemory(answers_a_step=2)
    for value in (1, 2, 1, 3):
        memory.recall("judgement", abs, value)
    memory.computed.clear()
    memory.recall("judgement", abs, 1)
    assert memory.computed == []
    memory.recall("judgement", abs, 2)
    assert memory.computed == ["judgement"]


def test_a_part_is_recalled_only_inside_a_step_with_a_memory() -> None:
    memory = StepMemory()
    seen = []

    def inner(value: int) -> int:
        seen.append(value)
        return value

    inner.__module__ = "bonewright.judgement.test"

    def step(value: int, *, other: int) -> int:
        return recalled(inner, value) + other

    assert memory.recall("judgement", step, 1, other=1) == 2
    assert memory.recall("judgement", step, 1, other=2) == 3
    assert seen == [1]
    assert recalled(inner, 1) == 1
    assert seen == [1, 1]


def test_what_a_step_answered_is_told_by_its_key_and_handed_on_as_it_is() -> None:
    memory = StepMemory()
    seen: list[object] = []

    def doubled(value: object) -> object:
        seen.append(value)
        return (value, value)

    # An object has no content that could be told: its key must do.
    answer = object()
    for key in ("a", "a", "b"):
        assert memory.recall("body", doubled, Answered(answer, key)) == (answer, answer)
    assert seen == [answer, answer]
    assert NoMemory().recall("body", doubled, Answered(answer, "a")) == (answer, answer)


def test_rows_of_a_table_have_one_fingerprint_whether_they_are_known_or_new() -> None:
    @dataclass(frozen=True)
    class Row:
        ref: int
        value: float

    rows = tuple(Row(number, 1.0) for number in range(40))
    again = tuple(Row(number, 1.0) for number in range(40))
    other = (*rows[:-1], Row(39, 2.0))
    assert fingerprint(rows) == fingerprint(rows) == fingerprint(again)
    assert fingerprint(other) != fingerprint(rows)
    assert fingerprint(rows[:-1]) != fingerprint(rows)
