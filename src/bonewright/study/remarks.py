"""What is no mistake in a study, and worth knowing all the same."""

from bonewright.study.model import Study
from bonewright.study.spelling import listed

__all__ = ["remarks"]

_MOST_NAMED = 5


def remarks(study: Study) -> tuple[str, ...]:
    """Say which bones nothing was measured on: they count as individuals and no more."""
    used = {row.specimen_id for row in study.measurements}
    used |= {row.specimen_id for row in study.sections if row.specimen_id}
    bare = [bone.specimen_id for bone in study.specimens if bone.specimen_id not in used]
    if not bare:
        return ()
    if not study.measurements:
        return (
            f"No bone is measured: {len(study.specimens)} stand in tables/specimens.csv, and"
            " tables/measurements.csv has no row.",
        )
    more = len(bare) - _MOST_NAMED
    shown = bare if more <= 0 else [*bare[:_MOST_NAMED], f"{more} more"]
    named = listed(shown, last="and")
    what = "bone has" if len(bare) == 1 else "bones have"
    return (
        f"{len(bare)} {what} no measurement and no section: {named}. Such bones count towards"
        " the number of individuals only.",
    )
