"""Measurement codes of birds' bones, and which code fits which bone.

Codes are those of von den Driesch (1976), from memory; meanings are ours, in short. Added
are CD, the least circumference of a shaft, and Bm and Dm, its diameters at mid-length.
Furcula and toe bones have the usual lengths and breadths (common practice).
"""

__all__ = ["CODES_OF_ELEMENT", "ELEMENTS", "MEASUREMENT_CODES", "code_meaning"]

ELEMENTS = (
    "skull",
    "mandible",
    "sternum",
    "coracoid",
    "scapula",
    "furcula",
    "humerus",
    "radius",
    "ulna",
    "carpometacarpus",
    "pelvis",
    "femur",
    "tibiotarsus",
    "tarsometatarsus",
    "phalanx",
)

MEASUREMENT_CODES: dict[str, str] = {
    "GL": "greatest length",
    "GLl": "greatest length, lateral side",
    "La": "axial length",
    "Lm": "medial length",
    "L": "length of metacarpal II",
    "LM": "greatest length of the sternum",
    "dL": "dorsal length",
    "LC": "length of the crista sterni",
    "LS": "length along the vertebrae",
    "LV": "length of the lumbosacral vertebrae",
    "LaF": "length from the joint surface to the tip",
    "CBL": "condylobasal length",
    "LP": "length from the protuberantia occipitalis externa to the processes of the premaxilla",
    "LI": "length of the incisive bone",
    "GB": "greatest breadth",
    "GBP": "greatest breadth across the postfrontal processes",
    "GH": "greatest height",
    "SBO": "smallest breadth between the orbits",
    "SBF": "smallest breadth between the facets",
    "AA": "breadth across the antitrochanters",
    "SB": "smallest breadth of the partes glutaeae",
    "DiA": "diameter of one acetabulum",
    "Bb": "greatest basal breadth",
    "BF": "breadth of the basal articular facet",
    "Bp": "breadth of the proximal end",
    "Dp": "depth of the proximal end",
    "Dip": "diagonal of the proximal end",
    "Dic": "greatest cranial diagonal",
    "Bd": "breadth of the distal end",
    "Dd": "depth of the distal end",
    "Did": "diagonal of the distal end",
    "SC": "smallest breadth of the shaft",
    "CD": "smallest circumference of the shaft",
    "Bm": "breadth of the shaft at mid-length",
    "Dm": "depth of the shaft at mid-length",
}

_SHAFT = ("SC", "CD", "Bm", "Dm")

CODES_OF_ELEMENT: dict[str, tuple[str, ...]] = {
    "skull": ("GL", "CBL", "GB", "GBP", "SBO", "GH", "LP", "LI"),
    "mandible": ("GL", "LaF", "LS"),
    "sternum": ("LM", "dL", "LC", "SBF"),
    "coracoid": ("GL", "Lm", "Bb", "BF"),
    "scapula": ("GL", "Dic"),
    "furcula": ("GL", "GB"),
    "humerus": ("GL", "Bp", "Dp", *_SHAFT, "Bd", "Dd"),
    "radius": ("GL", *_SHAFT, "Bp", "Bd", "Dd"),
    "ulna": ("GL", "Dip", "Bp", *_SHAFT, "Did", "Bd"),
    "carpometacarpus": ("GL", "L", "Bp", "Did"),
    "pelvis": ("GL", "LS", "LV", "AA", "SB", "DiA"),
    "femur": ("GL", "GLl", "Lm", "Bp", "Dp", *_SHAFT, "Bd", "Dd"),
    "tibiotarsus": ("GL", "GLl", "La", "Dip", "Bp", "Dp", *_SHAFT, "Bd", "Dd"),
    "tarsometatarsus": ("GL", "Bp", "Dp", *_SHAFT, "Bd", "Dd"),
    "phalanx": ("GL", "Bp", "Dp", "SC", "Bd", "Dd"),
}
"""Codes that can be taken on each bone, in the order of the drawings."""

_MEANINGS_OF_BONES = {
    ("mandible", "LS"): "length of the symphysis",
    ("pelvis", "GL"): "greatest length",
    ("coracoid", "GL"): "greatest (diagonal) length",
    ("furcula", "GB"): "greatest breadth between the upper ends",
}


def code_meaning(element: str, code: str) -> str:
    """Return what a code means on a bone; the code itself if it is a study's own."""
    return _MEANINGS_OF_BONES.get((element, code)) or MEASUREMENT_CODES.get(code, code)
