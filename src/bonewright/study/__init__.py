"""The study folder: tables a spreadsheet opens, checked cell by cell, loaded as frozen rows.

A study is a folder. ``study.toml`` says which animal, which question and which choices
were made, each with its reason. ``tables/`` holds one table a kind of thing: a row a bone,
a row a measurement, a row a picture. ``files/`` holds what a table only names: outlines,
trees, images. ``results/`` is made by the program and may be deleted; ``history/`` keeps
every step, by whomever, with the way back (:mod:`bonewright.study.history`).

Nothing is computed from a study in which a cell could be read in two ways. The check tells
every problem at once: the file, the row as the spreadsheet shows it, the column, what was
found, what was expected and how to mend it. A number outside the plausible range (a femur
of 17 m) is a problem too, until a row in ``decisions.csv`` says why it is right.

Lengths may be written in mm, cm or inches, masses in g, kg or pounds: they are converted
here, once, and nowhere else.
"""
