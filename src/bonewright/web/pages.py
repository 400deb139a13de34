"""The templates, and how they write."""

from jinja2 import Environment, PackageLoader, StrictUndefined

from bonewright.report.wording import plural, typeset
from bonewright.study.bone_codes import ELEMENTS
from bonewright.study.bone_drawings import bone_drawing
from bonewright.web.results_shown import wordy_columns

__all__ = ["render"]

_TEMPLATES = Environment(
    loader=PackageLoader("bonewright.web", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.filters["counted"] = plural
_TEMPLATES.filters["typeset"] = typeset
_TEMPLATES.globals["wordy_columns"] = wordy_columns
_TEMPLATES.globals["bone_drawings"] = lambda: [
    {"element": element, "drawing": bone_drawing(element)} for element in ELEMENTS
]


def render(template: str, **shown: object) -> str:
    """Write a page, or a part of one."""
    return _TEMPLATES.get_template(template).render(**shown)
