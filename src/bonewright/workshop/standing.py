"""How the figure stands: tilt and push in every direction, base, anchors, floor, crate, lifting.

A body on a level floor tips over an edge of what it stands on when the vertical through its
centre of mass leaves it: tilted by atan(d / h) towards an edge at distance d below a centre
at height h; pushed with F at height H when F H exceeds weight x d.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import ConvexHull

from bonewright.errors import OutsideRange
from bonewright.findings import Caveat
from bonewright.quantity import Draws
from bonewright.workshop.amounts import Amount, joined_sources
from bonewright.workshop.armature import Armature
from bonewright.workshop.armature_loads import GRAVITY
from bonewright.workshop.build_rules import BuildRules
from bonewright.workshop.figure_to_build import FigureToBuild

__all__ = [
    "Anchoring",
    "BaseBoard",
    "Crate",
    "Standing",
    "push_to_tip_n",
    "room_towards_mm",
    "standing_of",
    "tilt_to_tip_deg",
]

_DIRECTIONS: Final = 36
_MARGIN_STEP_MM: Final = 5.0
_LEAST_MARGIN_MM: Final = 10.0
_LEAST_MARGIN_SHARE: Final = 0.05
_N_ANCHORS: Final = 4
_FORMULA: Final = "equilibrium of a rigid body (derivation)"
_PLYWOOD: Final = 650.0
_MM3_PER_M3: Final = 1e9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BaseBoard:
    """The base: a rectangle under the feet. ``corners_mm`` (4, 2), ``margin_mm`` beyond the feet.

    ``enough`` tells whether figure and base stand by themselves within the limits.
    """

    corners_mm: Draws
    thickness_mm: float
    margin_mm: float
    mass_kg: Amount
    enough: bool

    @property
    def size_mm(self) -> tuple[float, float]:
        """Length (along the figure) and width."""
        length, width = np.ptp(self.corners_mm, axis=0)
        return float(length), float(width)

    @property
    def area_m2(self) -> float:
        """Area of the board."""
        length, width = self.size_mm
        return length * width / 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchoring:
    """Pull on each of four anchors when the figure is pushed; 0 where none is needed."""

    pull_n: Amount
    shear_n: Amount
    needed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Crate:
    """A crate: inside length, width and height (mm), its own mass, and what is lifted."""

    inside_mm: tuple[float, float, float]
    crate_kg: Amount
    lift_kg: Amount
    people: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """How a figure stands.

    ``direction_deg`` (n,) counts from straight ahead to the animal's left. ``tilt_deg`` and
    ``push_n`` (n,) are for figure and base in each direction, ``feet_tilt_deg`` for the feet
    alone, without base. ``centre_mm`` (3,) is the centre of mass of figure and base above
    the floor, ``push_height_mm`` where it is pushed above the floor.
    """

    direction_deg: Draws
    feet_tilt_deg: Draws
    tilt_deg: Draws
    push_n: Draws
    centre_mm: Draws
    push_height_mm: float
    mass_kg: Amount
    least_tilt: Amount
    least_push: Amount
    base: BaseBoard
    anchoring: Anchoring
    floor_kn_m2: Amount
    crate: Crate
    caveats: tuple[Caveat, ...]


def room_towards_mm(outline_mm: Draws, centre_mm: Draws, direction_rad: Draws) -> Draws:
    """Return how far a point is from the edge of a convex outline in each direction.

    Parameters
    ----------
    outline_mm : (m, 2) float
        Corners of a convex outline, in any order.
    centre_mm : (2,) float
    direction_rad : (n,) float

    Returns
    -------
    (n,) float
        Below 0 where the point lies outside and the outline is behind it.
    """
    # Each face of the hull is n . x + c <= 0 with n of unit length.
    faces = ConvexHull(outline_mm).equations
    gaps = -(faces[:, :2] @ centre_mm + faces[:, 2])
    ways = np.stack((np.cos(direction_rad), np.sin(direction_rad)), axis=1)
    closing = ways @ faces[:, :2].T
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(closing > 1e-12, gaps / closing, np.inf)
    return np.asarray(reach.min(axis=1))


def tilt_to_tip_deg(room_mm: Draws, height_mm: float) -> Draws:
    """Return the tilt at which a body tips: atan(room / height of the centre of mass)."""
    return np.asarray(np.degrees(np.arctan2(room_mm, height_mm)))


def push_to_tip_n(room_mm: Draws, *, mass_kg: float, push_height_mm: float) -> Draws:
    """Return the level push that tips a body that does not slide."""
    return np.asarray(mass_kg * GRAVITY * room_mm / push_height_mm)


def standing_of(figure: FigureToBuild, armature: Armature, rules: BuildRules) -> Standing:
    """Choose a base and tell how the figure stands on it.

    The base is widened evenly around the feet until the figure keeps the limits of tilt and
    push, or until its widest; then anchors take the rest.

    Raises
    ------
    OutsideRange
        If the centre of mass lies beyond the feet, so that the figure stands on no base.
    """
    angle = 2 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    feet_room = room_towards_mm(figure.foot_mm, armature.centre_mm[:2], angle)
    thickness = rules.limit("base thickness (mm)")
    top = float(figure.size_mm[2])
    push_height = min(rules.limit("push height (mm)"), top + thickness)
    board = _board(figure, armature, rules, angle=angle, push_height=push_height)
    mass = _plus(armature.mass_kg, board.mass_kg, "figure, armature and base")
    centre = _centre_on_board(armature, board, board.mass_kg.value)
    room = room_towards_mm(board.corners_mm, centre[:2], angle)
    tilt = tilt_to_tip_deg(room, float(centre[2]))
    push = push_to_tip_n(room, mass_kg=mass.value, push_height_mm=push_height)
    crate = _crate(figure, board, rules, mass)
    if room.min() <= 0:
        raise OutsideRange(
            "The centre of mass lies beyond the base: the figure would fall at once.",
            remedy="Look at the pose, or widen the limit 'widest base margin (mm)'.",
        )
    return Standing(
        direction_deg=np.degrees(angle),
        feet_tilt_deg=tilt_to_tip_deg(feet_room, float(armature.centre_mm[2])),
        tilt_deg=tilt,
        push_n=push,
        centre_mm=centre,
        push_height_mm=push_height,
        mass_kg=mass,
        # The centre may sit a twentieth of its height elsewhere when clay is laid on by hand.
        least_tilt=_spread(float(tilt.min()), 0.05, "degrees", "atan(room / height), least of all"),
        least_push=Amount(
            value=float(push.min()),
            low=float(push.min()) * mass.low / mass.value,
            high=float(push.min()) * mass.high / mass.value,
            unit="N",
            how=f"weight x room / {push_height:.0f} mm, least of all directions",
            source=_FORMULA,
        ),
        base=board,
        anchoring=_anchoring(board, push, rules, mass=mass, push_height=push_height),
        floor_kn_m2=mass.times(
            GRAVITY / 1000 / board.area_m2,
            unit="kN/m2",
            how="weight over the base's area",
        ),
        crate=crate,
        caveats=_caveats(board, push, rules, mass=mass),
    )


def _spread(value: float, share: float, unit: str, how: str) -> Amount:
    return Amount(
        value=value,
        low=value * (1 - share),
        high=value * (1 + share),
        unit=unit,
        how=how,
        source=_FORMULA,
    )


def _plus(first: Amount, second: Amount, how: str) -> Amount:
    return Amount(
        value=first.value + second.value,
        low=first.low + second.low,
        high=first.high + second.high,
        unit=first.unit,
        how=how,
        source=joined_sources(first.source, second.source),
    )


def _rectangle(outline: Draws, margin: float) -> Draws:
    low, high = outline.min(axis=0) - margin, outline.max(axis=0) + margin
    return np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])


def _board(
    figure: FigureToBuild,
    armature: Armature,
    rules: BuildRules,
    *,
    angle: Draws,
    push_height: float,
) -> BaseBoard:
    """Widen the base until figure and base keep the limits, or as far as it may go."""
    material = rules.material("base")
    thickness = rules.limit("base thickness (mm)")
    widest = rules.limit("widest base margin (mm)")
    least = max(_LEAST_MARGIN_MM, _LEAST_MARGIN_SHARE * float(figure.size_mm[2]))
    margin = min(least, widest)
    while True:
        corners = _rectangle(figure.foot_mm, margin)
        volume_m3 = float(np.prod(np.ptp(corners, axis=0))) * thickness / _MM3_PER_M3
        mass = Amount(
            value=volume_m3 * material.density_kg_m3,
            low=volume_m3 * material.low_kg_m3,
            high=volume_m3 * material.high_kg_m3,
            unit="kg",
            how=f"area x thickness x density of {material.material}",
            source=material.source,
        )
        board = BaseBoard(
            corners_mm=corners,
            thickness_mm=thickness,
            margin_mm=margin,
            mass_kg=mass,
            enough=False,
        )
        centre = _centre_on_board(armature, board, mass.value)
        room = room_towards_mm(corners, centre[:2], angle)
        tilts = tilt_to_tip_deg(room, float(centre[2])).min() >= rules.limit("tilt (degrees)")
        total = armature.mass_kg.value + mass.value
        push = push_to_tip_n(room, mass_kg=total, push_height_mm=push_height).min()
        # A model that is lighter than the push weighs would need a base larger than itself.
        weight = total * GRAVITY
        pushed = push >= min(
            rules.limit("push (N)"), rules.limit("least push over weight (%)") / 100 * weight
        )
        if tilts and pushed:
            strong = bool(push >= rules.limit("push (N)"))
            return BaseBoard(
                corners_mm=corners,
                thickness_mm=thickness,
                margin_mm=margin,
                mass_kg=mass,
                enough=strong,
            )
        if margin >= widest:
            return board
        margin = min(margin + _MARGIN_STEP_MM, widest)


def _centre_on_board(armature: Armature, board: BaseBoard, board_kg: float) -> Draws:
    """Return the centre of mass of figure and base, above the floor."""
    figure_kg = armature.mass_kg.value
    middle = np.append(board.corners_mm.mean(axis=0), board.thickness_mm / 2)
    raised = armature.centre_mm + np.array([0.0, 0.0, board.thickness_mm])
    return np.asarray((raised * figure_kg + middle * board_kg) / (figure_kg + board_kg))


def _anchoring(
    board: BaseBoard, push: Draws, rules: BuildRules, *, mass: Amount, push_height: float
) -> Anchoring:
    """Return the pull on the two anchors away from the edge over which the base would tip."""
    wanted = rules.limit("push (N)")
    least = float(push.min())
    short = max(wanted - least, 0.0)
    # Anchors stand a tenth in from the edges; two of four hold against a tip over one edge.
    lever = 0.9 * min(board.size_mm)
    pull = short * push_height / lever / 2
    return Anchoring(
        pull_n=Amount(
            value=pull,
            low=max(wanted - least * mass.high / mass.value, 0) * push_height / lever / 2,
            high=max(wanted - least * mass.low / mass.value, 0) * push_height / lever / 2,
            unit="N",
            how="(wanted push - push that tips) x height / lever, over the two anchors that pull",
            source=_FORMULA,
        ),
        shear_n=Amount(
            value=wanted / _N_ANCHORS,
            low=wanted / _N_ANCHORS,
            high=wanted,
            unit="N",
            how="wanted push over four anchors; all of it on one at worst",
            source=_FORMULA,
        ),
        needed=short > 0,
    )


def _crate(figure: FigureToBuild, board: BaseBoard, rules: BuildRules, mass: Amount) -> Crate:
    clearance, wall = rules.limit("crate clearance (mm)"), rules.limit("crate wall (mm)")
    low = np.minimum(figure.whole.vertices_mm[:, :2].min(axis=0), board.corners_mm.min(axis=0))
    high = np.maximum(figure.whole.vertices_mm[:, :2].max(axis=0), board.corners_mm.max(axis=0))
    length, width = (high - low) + 2 * clearance
    height = float(figure.size_mm[2]) + board.thickness_mm + 2 * clearance
    area_m2 = float(2 * (length * width + length * height + width * height) / 1e6)
    boards = area_m2 * wall / 1000 * _PLYWOOD
    crate = Amount(
        value=boards * 1.25,
        low=boards,
        high=boards * 1.6,
        unit="kg",
        how="plywood of six walls, a quarter more for battens and padding",
        source="common practice",
    )
    lift = _plus(mass, crate, "figure, base and crate")
    return Crate(
        inside_mm=(float(length), float(width), height),
        crate_kg=crate,
        lift_kg=lift,
        people=int(np.ceil(lift.high / rules.limit("one person's lift (kg)"))),
    )


def _caveats(
    board: BaseBoard, push: Draws, rules: BuildRules, *, mass: Amount
) -> tuple[Caveat, ...]:
    found = [
        Caveat(
            code="standing is for the engineer",
            text="Limits of tilt and push are common practice, no museum standard. Local codes"
            " and a licensed structural engineer decide about base, anchors and floor.",
        )
    ]
    if not board.enough:
        found.append(
            Caveat(
                code="anchors needed",
                text=f"{push.min():.2g} N at the top tip figure and base, less than the push of"
                f" {rules.limit('push (N)'):g} N that a visitor may give: anchor it, put it behind"
                " glass, or keep it out of reach.",
            )
        )
    floor = mass.high * GRAVITY / 1000 / board.area_m2
    if floor > rules.limit("floor load (kN/m2)"):
        found.append(
            Caveat(
                code="floor load",
                text=f"The floor under the base carries up to {floor:.1f} kN/m2, more than the"
                f" limit of {rules.limit('floor load (kN/m2)'):g}: spread the load, and ask"
                " about the floor.",
            )
        )
    return tuple(found)
