from bonewright.pipeline import Run
from bonewright.report.blocks import Paragraph, TableBlock
from bonewright.report.label import label_blocks, labels
from bonewright.report.reading_level import reading_level


def test_the_report_prints_every_label_and_what_each_sentence_stands_on(full_run: Run) -> None:
    made = labels(full_run)
    *texts, table = label_blocks(full_run)
    assert isinstance(table, TableBlock)
    for label, block in zip(made, texts, strict=True):
        assert isinstance(block, Paragraph)
        assert "Flesch reading ease" in block.lead
        assert block.text == " ".join(sentence.text for sentence in label.sentences)
    stands_on = {row[0]: row[2] for row in table.rows}
    assert set(stands_on) == {sentence.text for sentence in made[-1].sentences}
    (weight,) = [text for text in stands_on if "weighed about" in text]
    assert stands_on[weight] == "Pooled mass"


def test_longer_words_and_sentences_read_harder() -> None:
    easy = reading_level("The bird ran. It was big. It ate fruit.")
    hard = reading_level(
        "Palaeontological interpretations of locomotory capability necessitate considerable"
        " methodological circumspection regarding allometric extrapolation."
    )
    assert easy.ease > 90 > 0 > hard.ease
    assert easy.grade < 3 < 15 < hard.grade
    assert reading_level("").words == 0
