import tomllib
from pathlib import Path

import pytest

from bonewright.report.reading_level import flesch_ease, kincaid_grade, syllables

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


def as_printed(printed: str) -> object:
    places = len(printed.partition(".")[2])
    return pytest.approx(float(printed), abs=0.5 * 10.0**-places)


@pytest.mark.parametrize("row", SOURCE["formulas"]["rows"])
def test_both_formulas_give_the_printed_values(row: tuple[int, int, int, str, str]) -> None:
    words, sentences, spoken, ease, grade = row
    assert flesch_ease(words / sentences, spoken / words) == as_printed(ease)
    assert kincaid_grade(words / sentences, spoken / words) == as_printed(grade)


def test_syllables_counted_by_letters_are_those_of_a_dictionary_but_for_a_few_words() -> None:
    counted = {
        word: (count, syllables(word))
        for count, key in enumerate(("one", "two", "three"), start=1)
        for word in SOURCE["syllables"][key]
    }
    wrong = {word for word, (spoken, found) in counted.items() if spoken != found}
    # Vowels spoken apart and silent letters within a word cannot be told by letters.
    assert wrong == {"surely", "museum", "science", "giant", "idea", "quiet"}
    total, spoken = (sum(pair[place] for pair in counted.values()) for place in (1, 0))
    assert total == pytest.approx(spoken, rel=0.05)
