"""How hard a text reads, by two named published formulas, counted by plain rules.

The reading level is measured, not promised, so that the writer of a label sees where a sentence
grew too hard.
"""

import re
from dataclasses import dataclass

__all__ = ["ReadingLevel", "flesch_ease", "kincaid_grade", "reading_level", "syllables"]

_WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*|\d[\d.,\u202f]*")
_SENTENCE_END = re.compile(r"[.!?](?=\s|$)")
_VOWELS = re.compile(r"[aeiouy]+")
_SILENT_END = re.compile(
    # -ed but for 'wanted', -es but for 'sizes' and 'tables', -e but for 'table' and 'tree'.
    r"[^aeiouytd]ed$|(?<![cs]h)(?<![^aeiouy]l)(?<![aeiouyszxcg])es$|(?<![^aeiouy]l)(?<![aeiouy])e$"
)
_TWO_IN_ONE = re.compile(r"(?<![tscgx])ia|(?<![tscgx])io|eo(?!u)|(?<![qg])ua|ui[nt][gy]|ying")
_IN_A_NUMBER = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLevel:
    """How hard a text reads: Flesch's ease (0 to 100, higher is easier), Kincaid's grade."""

    ease: float
    grade: float
    words: int

    def sentence(self) -> str:
        """Say the level in words, and by which formulas."""
        age = max(6, round(self.grade) + 6)
        return (
            f"{self.words} words; Flesch reading ease {self.ease:.0f} of 100; Kincaid grade"
            f" {self.grade:.0f}: for readers of about {age} years and up"
        )


def flesch_ease(words_a_sentence: float, syllables_a_word: float) -> float:
    """Return the reading ease of [Flesch1948]_, without a unit; 60 to 70 is plain English."""
    return 206.835 - 1.015 * words_a_sentence - 84.6 * syllables_a_word


def kincaid_grade(words_a_sentence: float, syllables_a_word: float) -> float:
    """Return the grade of [Kincaid1975]_ in years of American school."""
    return 0.39 * words_a_sentence + 11.8 * syllables_a_word - 15.59


def reading_level(text: str) -> ReadingLevel:
    """Measure how hard an English text reads.

    Notes
    -----
    A short text sways with single words, and the formulas know nothing of what the words mean.

    Examples
    --------
    >>> round(reading_level("The cat sat on the mat.").ease, 1)
    116.1
    """
    words = _WORD.findall(text)
    if not words:
        return ReadingLevel(ease=100.0, grade=0.0, words=0)
    length = len(words) / max(1, len(_SENTENCE_END.findall(text)))
    per_word = sum(map(syllables, words)) / len(words)
    return ReadingLevel(
        ease=flesch_ease(length, per_word),
        grade=max(0.0, kincaid_grade(length, per_word)),
        words=len(words),
    )


def syllables(word: str) -> int:
    """Count the syllables of an English word by its letters; a number counts as two.

    Groups of vowels, less a silent ending, and one more where two vowels are spoken apart.
    """
    if word[0].isdigit():
        return _IN_A_NUMBER
    lower = word.lower()
    count = len(_VOWELS.findall(lower)) - len(_SILENT_END.findall(lower))
    return max(1, count + len(_TWO_IN_ONE.findall(lower)))
