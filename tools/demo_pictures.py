"""The invented picture files of the demo, and the marks that observers set on them.

Each bird is built from joints in mm, seen from the side; a copy is its original turned,
resized, perhaps mirrored, and drawn with a less sure hand. GIF is written because its
packing depends on no outside library, so that the same bytes come out everywhere.
"""

import hashlib
import io
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

Row = dict[str, str]
Points = dict[str, NDArray[np.float64]]

CANVAS: Final = (360, 300)
MOUNT_CANVAS: Final = (460, 520)
MOUNT_PX_PER_MM: Final = 0.5
MARKING_SD_PX: Final = 0.7
TRACING_STEP_PX: Final = 10.0
# Photographs and drawings show skin: what it adds to the bone, in mm, in the middle of what the
# audit allows.
HEAD_SHEATH_MM: Final = 11.0
HEAD_SKIN_MM: Final = 8.0
LEG_SKIN_MM: Final = 7.0

MARKED: Final = (1, 3, 5, 7, 8, 11, 12, 13, 14, 16, 17, 18, 19, 20, 21, 22, 23, 24)
OUTLINED: Final = (1, 11, 16, 19)
# The head is drawn deeper than any bone and skin would have it.
DEEP_HEADS: Final = {13: 1.75}
MIRRORED: Final = {14, 18}

_PAPERS = ((242, 234, 214), (234, 226, 208), (247, 243, 232), (225, 215, 196))


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """What one drawn bird is made of: bones in mm, pose in rad, flesh in mm."""

    head: float
    head_depth: float
    thigh: float
    lower_leg: float
    shank: float
    depth: float
    length: float
    neck: float
    pose: tuple[float, ...]
    hook: float


def _turned(x: float, y: float, angle: float) -> NDArray[np.float64]:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([cos * x - sin * y, sin * x + cos * y])


def joints_mm(build: Build) -> Points:
    """Return the bird's points in mm, facing left, y upwards, toes at the origin."""
    lean, knee_bend, thigh_lie, trunk, neck_up, nod = build.pose
    toe = np.zeros(2)
    heel = toe + build.shank * np.array([np.sin(lean), np.cos(lean)])
    knee = heel + build.lower_leg * np.array([-np.sin(knee_bend), np.cos(knee_bend)])
    hip = knee + build.thigh * np.array([np.cos(thigh_lie), np.sin(thigh_lie)])
    middle = hip + _turned(-0.16 * build.length, 0.0, trunk)

    def on_trunk(along: float, up: float) -> NDArray[np.float64]:
        return middle + _turned(along * build.length, up * build.depth, trunk)

    neck_root = on_trunk(-0.40, 0.30)
    head = neck_root + build.neck * np.array([-np.cos(neck_up), np.sin(neck_up)])

    def on_head(forward: float, up: float) -> NDArray[np.float64]:
        return head + _turned(-forward, up, nod)

    tip = on_head(0.78 * build.head, -0.18 * build.head_depth)
    root = on_head(0.24 * build.head, 0.24 * build.head_depth)
    upward = _turned(0.0, 1.0, nod)
    return {
        "bill tip": tip,
        "bill middle": (tip + root) / 2 + upward * build.hook * build.head,
        "bill root": root,
        "crown": on_head(0.0, 0.5 * build.head_depth),
        "throat": on_head(0.02 * build.head, -0.5 * build.head_depth),
        "back of head": on_head(-0.22 * build.head, 0.0),
        "eye": on_head(0.06 * build.head, 0.12 * build.head_depth),
        "breast": on_trunk(-0.5, 0.05),
        "back": on_trunk(0.02, 0.5),
        "belly": on_trunk(-0.06, -0.5),
        "tail root": on_trunk(0.48, 0.22),
        "hip": hip,
        "knee": knee,
        "heel joint": heel,
        "toe root": toe,
    }


def build_of(
    rng: np.random.Generator,
    average_mm: dict[tuple[str, str], float],
    *,
    fatness: float,
    deep_head: float = 1.0,
) -> Build:
    """Make a drawing of the bird: proportions nearly right, pose and flesh as the maker liked."""

    def about(value: float, spread: float) -> float:
        return value * float(np.exp(rng.normal(0, spread)))

    pose = (
        rng.uniform(-0.1, 0.35),
        rng.uniform(0.2, 0.8),
        rng.uniform(0.2, 0.6),
        rng.uniform(-0.05, 0.6),
        rng.uniform(0.5, 1.5),
        rng.uniform(-0.2, 0.35),
    )
    return Build(
        head=about(average_mm["skull", "GL"] + HEAD_SHEATH_MM, 0.05),
        head_depth=deep_head * about(average_mm["skull", "GH"] + HEAD_SKIN_MM, 0.05),
        thigh=about(average_mm["femur", "GL"] + LEG_SKIN_MM, 0.05),
        lower_leg=about(average_mm["tibiotarsus", "GL"] + LEG_SKIN_MM, 0.05),
        shank=about(average_mm["tarsometatarsus", "GL"] + LEG_SKIN_MM, 0.05),
        depth=about(110 + 32 * fatness, 0.1),
        length=about(330, 0.12),
        neck=about(170, 0.2),
        pose=tuple(float(angle) for angle in pose),
        hook=float(rng.uniform(0.02, 0.12)),
    )


def copied(rng: np.random.Generator, points: Points, *, mirrored: bool) -> Points:
    """Copy a drawing: turned a little, resized, perhaps mirrored, each point a little off."""
    size = float(rng.uniform(0.7, 1.3))
    angle = float(rng.normal(0, 0.05))
    spread = float(np.std(np.array(list(points.values())), axis=0).sum())
    copy = {}
    for name, (x, y) in points.items():
        place = size * _turned(-x if mirrored else x, y, angle)
        copy[name] = place + rng.normal(0, 0.012 * spread * size, 2)
    return copy


def on_canvas(points: Points, canvas: tuple[int, int], px_per_mm: float | None = None) -> Points:
    """Place a bird on a canvas: px, y downwards."""
    places = np.array(list(points.values()))
    low, high = places.min(axis=0), places.max(axis=0)
    scale = px_per_mm or 0.72 * min(canvas[0] / (high - low)[0], canvas[1] / (high - low)[1])
    middle = (low + high) / 2
    return {
        name: np.array(
            [canvas[0] / 2 + scale * (x - middle[0]), 0.5 * canvas[1] - scale * (y - middle[1])]
        )
        for name, (x, y) in points.items()
    }


def _smooth(points: list[NDArray[np.float64]], steps: int = 8) -> list[tuple[float, float]]:
    """Round a closed ring of points off (Catmull-Rom)."""
    ring = np.array(points)
    before, after, beyond = (np.roll(ring, shift, axis=0) for shift in (1, -1, -2))
    curve = []
    for i in range(len(ring)):
        for t in np.linspace(0, 1, steps, endpoint=False):
            place = 0.5 * (
                2 * ring[i]
                + (after[i] - before[i]) * t
                + (2 * before[i] - 5 * ring[i] + 4 * after[i] - beyond[i]) * t**2
                + (3 * ring[i] - before[i] - 3 * after[i] + beyond[i]) * t**3
            )
            curve.append((float(place[0]), float(place[1])))
    return curve


def body_ring(px: Points) -> list[NDArray[np.float64]]:
    """Return the ring of points around head, neck and trunk, in order."""
    nape = 0.55 * px["back of head"] + 0.45 * px["back"] + 0.12 * (px["throat"] - px["crown"])
    tail = px["tail root"] + 0.35 * (px["tail root"] - px["breast"])
    rump = 0.6 * px["tail root"] + 0.4 * px["belly"]
    gullet = 0.6 * px["throat"] + 0.4 * px["breast"]
    chin = 0.5 * (px["throat"] + px["bill root"]) + 0.3 * (px["bill root"] - px["back of head"])
    return [
        px["bill tip"], px["bill middle"], px["bill root"], px["crown"], px["back of head"], nape,
        px["back"], px["tail root"], tail, rump, px["belly"], px["breast"], gullet, px["throat"],
        chin,
    ]  # fmt: skip


def leg_width_px(px: Points) -> int:
    """Return how wide the shank is drawn; the lower leg is twice as wide."""
    return max(4, round(0.035 * float(np.ptp([p[1] for p in px.values()]))))


def careful_trace(px: Points) -> list[NDArray[np.float64]]:
    """Return points close together along the silhouette: body, near leg and foot."""
    body = [np.array(place) for place in _smooth(body_ring(px), steps=4)]
    width = leg_width_px(px)
    knee, heel, toe = px["knee"], px["heel joint"], px["toe root"]
    facing = np.sign(px["bill tip"][0] - px["back of head"][0])

    def forward(upper: NDArray[np.float64], lower: NDArray[np.float64]) -> NDArray[np.float64]:
        down = (lower - upper) / np.hypot(*(lower - upper))
        across = np.array([-down[1], down[0]])
        return across if across[0] * facing > 0 else -across

    thick, thin = forward(knee, heel) * width, forward(heel, toe) * width / 2
    leave, behind = _crossing(body, knee - thick, heel - thick)
    arrive, before = _crossing(body, knee + thick, heel + thick)
    tip, sole = np.array([facing * 4 * width, 3.0]), np.array([0.0, width / 4])
    leg = [behind, heel - thick, heel - thin, toe - thin, toe + sole, toe + tip + sole,
           toe + tip - sole, toe + thin, heel + thin, heel + thick, before]  # fmt: skip
    return _stepped([*body[: leave + 1], *leg, *body[arrive + 1 :]])


def _crossing(
    ring: list[NDArray[np.float64]], upper: NDArray[np.float64], lower: NDArray[np.float64]
) -> tuple[int, NDArray[np.float64]]:
    """Return where a line out of the body leaves it: the point before, and the place."""
    for at, (one, other) in enumerate(zip(ring, np.roll(ring, -1, axis=0), strict=True)):
        sides = np.array([other - one, upper - lower]).T
        if np.linalg.det(sides) == 0:
            continue
        along, up = np.linalg.solve(sides, upper - one)
        if 0 <= along < 1 and 0 <= up <= 1:
            return at, one + along * (other - one)
    raise ValueError("the leg does not leave the body")


def _stepped(ring: list[NDArray[np.float64]]) -> list[NDArray[np.float64]]:
    """Put points on a closed line about a step of tracing apart, each bend kept."""
    places = []
    for one, other in zip(ring, [*ring[1:], ring[0]], strict=True):
        count = max(1, round(float(np.hypot(*(other - one))) / TRACING_STEP_PX))
        places += [one + (other - one) * step / count for step in range(count)]
    return places


def draw(px: Points, canvas: tuple[int, int], *, paper: int, scale_px: float = 0.0) -> bytes:
    """Draw a bird as a flat silhouette; with a scale bar for a photograph."""
    image = Image.new("P", canvas, 0)
    ink, shade, ground = (62, 52, 44), (116, 98, 80), (196, 182, 156)
    palette = [*_PAPERS[paper % len(_PAPERS)], *ground, *shade, *ink, 250, 250, 246]
    image.putpalette(palette + [0] * (768 - len(palette)))
    pen = ImageDraw.Draw(image)
    width = leg_width_px(px)
    toe = px["toe root"]
    facing = np.sign(px["bill tip"][0] - px["back of head"][0])
    pen.rectangle([0, float(toe[1]) + 4, canvas[0], canvas[1]], fill=1)
    for shift, colour in ((1.6 * width, 2), (0.0, 3)):
        leg = [px[name] for name in ("hip", "knee", "heel joint", "toe root")]
        line = [(float(x + shift), float(y)) for x, y in leg]
        pen.line(line[:3], fill=colour, width=2 * width)
        pen.line(line[2:], fill=colour, width=width)
        foot = line[-1]
        pen.line([foot, (foot[0] + facing * 4 * width, foot[1] + 3)], fill=colour, width=width // 2)
    pen.polygon(_smooth(body_ring(px)), fill=3)
    eye = px["eye"]
    pen.ellipse([eye[0] - 2, eye[1] - 2, eye[0] + 2, eye[1] + 2], fill=4)
    if scale_px:
        x, y = 24, canvas[1] - 22
        pen.rectangle([x, y, x + scale_px, y + 7], fill=4)
        pen.rectangle([x, y, x + scale_px / 2, y + 7], fill=3)
    out = io.BytesIO()
    image.save(out, "GIF")
    return out.getvalue()


def landmark_rows(
    rng: np.random.Generator,
    px: Points,
    *,
    picture: str,
    content: bytes,
    rounds: list[tuple[str, int]],
    outline: list[NDArray[np.float64]],
    first: int,
) -> list[Row]:
    """Let observers mark a picture; its outline, if any, is traced once, by the first."""
    rows: list[Row] = []
    checksum = hashlib.sha256(content).hexdigest()
    for turn, (observer, marking_round) in enumerate(rounds):
        marked = [(name, "", place) for name, place in px.items()]
        if turn == 0:
            marked += [("outline", str(n), p) for n, p in enumerate(outline, start=1)]
        for name, order, place in marked:
            x, y = place + rng.normal(0, MARKING_SD_PX, 2)
            rows.append(
                {
                    "landmarkID": f"lm-{first + len(rows):04d}",
                    "pictureID": picture,
                    "landmark": name,
                    "pointOrder": order,
                    "xPixel": f"{x:.1f}",
                    "yPixel": f"{y:.1f}",
                    "measurementDeterminedBy": observer,
                    "markingRound": str(marking_round),
                    "pictureChecksum": checksum,
                }
            )
    return rows


def mark_pictures(
    rng: np.random.Generator,
    *,
    fatness: dict[str, float],
    copies: dict[str, str],
    average_mm: dict[tuple[str, str], float],
) -> tuple[dict[str, bytes], list[Row]]:
    """Return the picture files by picture, and the rows of landmarks.

    Parameters
    ----------
    fatness : mapping from picture to the fatness it shows
    copies : mapping from copy to original, known and unknown ones
    """
    drawings: dict[str, Points] = {}
    files: dict[str, bytes] = {}
    rows: list[Row] = []
    for number in MARKED:
        name = f"pic-{number:02d}"
        if name in copies:
            original = drawings[copies[name]]
            drawings[name] = copied(rng, original, mirrored=number in MIRRORED)
        else:
            deep = DEEP_HEADS.get(number, 1.0)
            build = build_of(rng, average_mm, fatness=fatness[name], deep_head=deep)
            drawings[name] = joints_mm(build)
        px = on_canvas(drawings[name], CANVAS)
        files[name] = draw(px, CANVAS, paper=number)
        del px["hip"]  # no drawing shows it
        rounds = [("observer A", 1), ("observer A", 2)]
        if number in OUTLINED:
            rounds.append(("observer B", 1))
        rows += landmark_rows(
            rng,
            px,
            picture=name,
            content=files[name],
            rounds=rounds,
            outline=body_ring(px) if number in OUTLINED else [],
            first=len(rows) + 1,
        )
    return files, rows


def photograph_mount(
    rng: np.random.Generator,
    average_mm: dict[tuple[str, str], float],
    *,
    faults: dict[tuple[str, str], float],
    first: int,
) -> tuple[bytes, list[Row]]:
    """Photograph the old mount, with its faults, beside a bar of 200 mm, and mark it."""

    def part(element: str, code: str, flesh: float, fault: tuple[str, str]) -> float:
        return (average_mm[element, code] * 1.03 + flesh) * faults.get(fault, 1.0)

    build = Build(
        head=part("skull", "GL", HEAD_SHEATH_MM, ("skull", "CBL")),
        head_depth=part("skull", "GH", HEAD_SKIN_MM, ("skull", "GH")),
        thigh=part("femur", "GL", LEG_SKIN_MM, ("femur", "GL")),
        lower_leg=part("tibiotarsus", "GL", LEG_SKIN_MM, ("tibiotarsus", "GL")),
        shank=part("tarsometatarsus", "GL", LEG_SKIN_MM, ("tarsometatarsus", "GL")),
        depth=230,
        length=340,
        neck=190,
        pose=(0.1, 0.35, 0.35, 0.5, 1.35, 0.05),
        hook=0.08,
    )
    px = on_canvas(joints_mm(build), MOUNT_CANVAS, MOUNT_PX_PER_MM)
    bar = 200 * MOUNT_PX_PER_MM
    content = draw(px, MOUNT_CANVAS, paper=3, scale_px=bar)
    outline = careful_trace(px)
    px["scale start"] = np.array([24.0, MOUNT_CANVAS[1] - 18.0])
    px["scale end"] = px["scale start"] + np.array([bar, 0.0])
    return content, landmark_rows(
        rng,
        px,
        picture="photo-1",
        content=content,
        rounds=[("observer A", 1), ("observer A", 2)],
        outline=outline,
        first=first,
    )
