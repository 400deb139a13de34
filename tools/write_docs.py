"""Write the pages of ``docs/`` that follow from the schemas: columns and where callipers go."""

from pathlib import Path

from bonewright.study.document import columns_markdown, measuring_files
from bonewright.study.workshop_document import workshop_markdown

DOCS = Path(__file__).resolve().parents[1] / "docs"


def main() -> None:
    """Write them all."""
    pages = {
        "columns.md": columns_markdown(),
        "workshop-defaults.md": workshop_markdown(),
        **measuring_files(),
    }
    for name, text in pages.items():
        path = DOCS / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
