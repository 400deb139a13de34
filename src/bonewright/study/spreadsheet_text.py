"""Texts written for a spreadsheet that would otherwise run them as formulas."""

__all__ = ["harmless"]

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def harmless(cell: object) -> object:
    """Return a cell of a table that is handed out: a text that begins as a formula is quoted.

    Numbers stay numbers, also where they come as text.

    Examples
    --------
    >>> harmless("=HYPERLINK(1)"), harmless("-12.5"), harmless(-12.5), harmless("femur")
    ("'=HYPERLINK(1)", '-12.5', -12.5, 'femur')
    """
    if not isinstance(cell, str) or not cell.startswith(_STARTS_FORMULA):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
