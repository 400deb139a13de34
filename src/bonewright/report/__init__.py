"""The report: the same figures, tables and words as PDF, as one HTML file and as JSON.

A report is read by people who were not there when the bones were measured: a museum's
science committee, a colleague in another collection, a conservator. They ask of every
number what it is, how far it can be trusted and how it was got. So the content is
defined once (:mod:`bonewright.report.document`), from the run alone, and set twice:
as A4 pages (:mod:`bonewright.report.pdf`) and as one self-contained HTML file
(:mod:`bonewright.report.html`). The figures (:mod:`bonewright.report.figures`) are the
ones of the local page. Scripts read :mod:`bonewright.report.as_json`.

What goes wrong, silently, when it is misread: an interval holds only what the study
knows. A line of evidence nobody thought of widens nothing.
"""
