"""Bonewright: put an extinct animal back on its feet, from bones to a defended report."""

__version__ = "0.1.0"
