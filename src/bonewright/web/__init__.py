"""The local page: the study's tables, results and figures in a browser on this machine.

The page is a thin skin. It shows what :mod:`bonewright.pipeline` computed, lets a person
correct a cell, and hands the corrected table to :mod:`bonewright.study`, which checks and
saves it. It computes no result of its own and keeps nothing that is not in the study
folder. It is served to this machine only, to the one browser that was handed the session
token.
"""
