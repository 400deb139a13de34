"""The history of a study: every step, and the way back to any of them.

Whatever changes the tables or the settings, from the page, by an import or by hand in a
spreadsheet, is a step with a number, a time and a sentence. ``history/journal.jsonl`` holds a
line a step, oldest first, each naming the files it changed by what they held before and
after (SHA-256). ``history/versions/`` holds what they held: a folder a file, a version a file,
as CSV that a spreadsheet opens (large ones packed with gzip). Nothing there is ever deleted
by the program.

A step is all or nothing. What it will write is laid down first; then ``history/pending.json``
is written, which decides; then the files are put in place and the journal gets its line. If
the machine stops before the decision nothing has happened; if it stops after, the next one
who opens the study finishes the step. ``history/lock`` is held by the one who writes; the
system lets it go when that program ends, however it ends.

Kept whole are ``study.toml``, ``imports.toml``, everything in ``tables/`` and the text files
in ``files/`` (trees, outlines, drawings) up to 4 MB. Of pictures, scans and stacks only the
size is noted: they are originals, and copies of them would fill the disk.
"""

from bonewright.study.history.going_back import moment_of
from bonewright.study.history.journal import By, FileChange, Step
from bonewright.study.history.record import ChangedOnDisk, History, Restored

__all__ = ["By", "ChangedOnDisk", "FileChange", "History", "Restored", "Step", "moment_of"]
