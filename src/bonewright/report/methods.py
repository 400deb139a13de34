"""What each step does, in plain words, and what can harm people on the way."""

from collections.abc import Callable

from bonewright.report.blocks import Block, Formula, Notice, Paragraph
from bonewright.report.wording import unit_words
from bonewright.study.settings import Choices, RangeChoice, Settings

__all__ = [
    "before_building",
    "cautions",
    "method",
    "range_choice_words",
    "to_the_bench",
]


def range_choice_words(choice: RangeChoice) -> str:
    """Write a choice as '0.95 kg/L (0.85 to 1.05)'."""
    unit = unit_words(choice.unit)
    value = f"{choice.value:g} {unit}".strip()
    return value if choice.low == choice.high else f"{value} ({choice.low:g} to {choice.high:g})"


def _skeleton(settings: Settings) -> tuple[Block, ...]:
    choices = settings.choices
    kind: str = choices.average
    if kind == "percentile":
        kind = f"individual larger than {choices.average_percentile:g} % of its kind"
    sexes = (
        "the middle of both sexes, however many of each were collected"
        if choices.average_sexes == "both alike"
        else "over the individuals found"
    )
    return (
        Paragraph(
            lead="What was done.",
            text="Every measurement was first brought to one value an individual: repeats by one"
            " observer and by several were averaged, then left and right; casts of bones already"
            " in the table and bones that had not finished growing were left out. Then all"
            " averages were estimated together, so that an individual that lacks a bone still"
            " says, by its other bones, how large that bone was. The pattern in which"
            " measurements vary together is pulled to that of the living relatives; how strongly"
            " was learned from the bones.",
        ),
        Formula(
            text="ln length = mean + loading · size + bone loading · deviation + residual + error",
            where="size: of the individual; deviation: of that bone, shared by its measurements;"
            " error: of measuring, known from repeats. Means are drawn from the sampled model, so"
            " that bones move together in every imagined world",
        ),
        Paragraph(
            lead="Which average.",
            text=f"{kind}, {sexes}. Reason: {choices.average_reason}",
        ),
        Paragraph(
            text="Codes name measurements after von den Driesch (1976): GL is a greatest length,"
            " Bp and Bd are breadths of the upper (proximal) and lower (distal) end, SC is the"
            " smallest breadth and CD the smallest circumference of the shaft.",
        ),
    )


def _relatives(settings: Settings) -> tuple[Block, ...]:
    blocks: list[Block] = [
        Paragraph(
            lead="What was done.",
            text="Several leg bones were fitted together on body mass over living species, on the"
            " tree of their kinship. What kin share and what each species has for itself may each"
            " run together in all bones, so that a stout bird is not counted once a bone. Given"
            " the average bones and the animal's place in the tree, the fit says how probable each"
            " mass is. Which bones enter was chosen by foretelling relatives of known mass: a"
            " quarter from the rest, families from others, and the heaviest from the lighter."
            " Single bones are shown beside it: they rest on the same relatives and would count the"
            " evidence twice.",
        ),
        Formula(
            text="ln(bones) = a + b · ln(mass) + c · ln(mass)² + descent + own",
            where="mass in kg, bones in mm; c is held near 0; descent gathers along the tree, own"
            " does not and has heavy tails (t with 10 degrees of freedom)",
        ),
        Paragraph(
            lead="Giants.",
            text="An animal like its kin is best foretold with what its kin weigh. A giant is not:"
            " kin draw it towards themselves and make it too light. So where the bones put the"
            " animal among the heaviest tenth of the relatives, its kin's mass is left aside and"
            " every mass is taken for as likely beforehand.",
        ),
        Paragraph(
            lead="Correction for the logarithm.",
            text=f"{_RETRANSFORMATION[settings.choices.retransformation]} Reason:"
            f" {settings.choices.retransformation_reason}",
        ),
    ]
    if settings.blind_proof is not None:
        blocks.append(
            Paragraph(
                lead="How the method was put to the proof.",
                text=f"{settings.blind_proof.species}, whose mass is known, was left out and then"
                f" foretold from its bones. Reason for choosing it:"
                f" {settings.blind_proof.reason}",
            )
        )
    return tuple(blocks)


_RETRANSFORMATION = {
    "lognormal": "A line on logarithms foretells the median mass. The single best mean was"
    " multiplied by exp(s²/2), s being the scatter in natural logarithms.",
    "smearing": "A line on logarithms foretells the median mass. The single best mean was"
    " multiplied by the mean of the exponentiated residuals (smearing).",
    "ratio": "A line on logarithms foretells the median mass. The single best mean was"
    " multiplied by the ratio of mean observed to mean foretold mass.",
    "none": "A line on logarithms foretells the median mass. No correction to a mean was made.",
}


def _sections(_: Settings) -> tuple[Block, ...]:
    return (
        Paragraph(
            lead="What was done.",
            text="Each cross-section was taken either by callipers, as an ellipse with an"
            " elliptical marrow hole (off the middle where walls were measured), or from an"
            " outline traced by hand, in a picture or across a scan, whose area and second"
            " moments follow exactly from its corners. The section modulus says how well the"
            " shaft resists bending; the torsion constant comes from the warping of the section,"
            " solved by finite elements. Each section was brought to the size of the average"
            " animal's bone before bones were averaged; of a bone cut all along, the section where"
            " the other bones were cut was taken.",
        ),
        Formula(
            text="Z = I / c",
            where="Z: section modulus in mm³; I: second moment of area about the mediolateral"
            " axis through the centroid in mm⁴; c: distance to the farthest fibre in mm",
        ),
    )


def _body(settings: Settings) -> tuple[Block, ...]:
    choices = settings.choices
    return (
        Paragraph(
            lead="Maquettes.",
            text="A model of the fleshed body gives its volume by the water it displaces, by its"
            " weight in air and in water, or by its weight and the density of its material. What"
            " is armature and no body was taken off, the volume brought to life size and"
            " multiplied by the density of a living body. A scan of a body gives the volume its"
            " closed surface encloses; a scan of a skeleton the convex hulls of its parts.",
        ),
        Formula(
            text="mass = volume · scale³ · density · (1 + shape)",
            where=f"density: {range_choice_words(choices.body_density)}; shape, the doubt in the"
            f" modelled flesh: {range_choice_words(choices.maquette_shape_percent)}; ranges hold"
            " 19 times in 20",
        ),
        Paragraph(
            lead="The body grown from the skeleton.",
            text="Each segment of the body is drawn through hoops across an axis between joints."
            " A hoop's half-width and its heights above and below the axis are given over a bone"
            " measurement, so that the body takes the size and the doubt of the average skeleton."
            " Volume, centre of mass and inertia are integrals over the hoops; what two segments"
            " share is counted once. Bone, air, skin and muscle fill each segment, and fat is laid"
            " under the skin and in the belly. The legs are turned until the centre of mass"
            " stands over the middle of the feet.",
        ),
        Formula(
            text="|y / half-width|ⁿ + |z / height|ⁿ = 1",
            where="the outline of a hoop; n, its exponent, is 2 for an ellipse. Hoops may be off"
            f" in volume by {range_choice_words(choices.grown_shape_percent)}, all together, and"
            " by 8 % (one standard deviation, common practice) each segment by itself. Fat:"
            f" {range_choice_words(choices.fat_lean_percent)} when lean,"
            f" {range_choice_words(choices.fat_mean_percent)} over the year,"
            f" {range_choice_words(choices.fat_fat_percent)} when fat",
        ),
        Paragraph(
            lead="Condition over the year.",
            text="Days of fasting are the energy of the fat between the two states over what a"
            " resting bird spends, the mass falling as the fat is spent. Each imagined world takes"
            " one of three published laws of basal metabolic rate.",
        ),
    )


def _movement(settings: Settings) -> tuple[Block, ...]:
    choices: Choices = settings.choices
    return (
        Paragraph(
            lead="What was done.",
            text="The bending strength of each leg bone was set against the weight it carried and"
            f" compared with living {choices.comparison}s measured alike. The masses at which the"
            " indicator stays within their range form a window; a mass outside it would make the"
            " leg stronger or weaker for its load than any of them. Reason for this comparison:"
            f" {choices.comparison_reason}",
        ),
        Formula(
            text="indicator = Z / (a · m · g · x)",
            where="in GPa⁻¹; Z: section modulus; a: share of weight on the pair of legs,"
            f" {range_choice_words(choices.weight_on_legs)}; m: body mass; g: 9.80665 m/s²; x:"
            " distance from the section to the bone's distal end",
        ),
        Paragraph(
            lead="Stresses.",
            text="On one leg the ground pushes with half the weight when standing and, at"
            " mid-step, with π over four times the duty factor"
            f" ({range_choice_words(choices.walking_duty_factor)} walking,"
            f" {range_choice_words(choices.running_duty_factor)} running). The bones' angles to"
            f" that push: femur {range_choice_words(choices.femur_angle)}, tibiotarsus"
            f" {range_choice_words(choices.tibiotarsus_angle)}, tarsometatarsus"
            f" {range_choice_words(choices.tarsometatarsus_angle)}. Bone breaks at"
            f" {range_choice_words(choices.bone_strength)}.",
        ),
        Formula(
            text="u = 0.25 · g^0.5 · L^1.67 · h^−1.17",
            where="u: speed in m/s; L: stride, two steps, in m; h: hip height in m",
        ),
        Paragraph(
            text="The test compares strength only: it knows nothing of muscle, tendon or habit,"
            " and the range depends on which living animals were measured. It says what an"
            " animal could bear, never how fast it ran."
        ),
    )


def _testimony(_: Settings) -> tuple[Block, ...]:
    return (
        Paragraph(
            lead="What was done.",
            text="Pictures were set in order of date by the middle of the years each can date"
            " from, and their fatness scores averaged over scorers. Copies are those entered as"
            " such, and those whose marked shape lies as near to another's as copies do"
            " (Procrustes distance, mirroring allowed). Every test was run with all pictures and"
            " with copies set aside, for a copy is no second witness.",
        ),
        Paragraph(
            lead="Change, trend, season.",
            text="Pettitt's test asks whether scores change at some date; Mann-Kendall's, with"
            " Theil and Sen's slope, whether they rise or fall steadily; a Bayesian change-point"
            " weighs one change against none while dates are drawn from their spans. Whether the"
            " date in the year foretells fatness better than the date in the century is judged by"
            " scores left out one at a time.",
        ),
        Paragraph(
            lead="Accounts.",
            text="Claims are listed as they stand, with where they stand and how near the observer"
            " was. Old local units were converted by the table of units; likelihood ratios are"
            " those that were entered.",
        ),
        Formula(
            text="p = 2 · exp(−6 K² / (n³ + n²))",
            where="K: largest absolute difference of rank sums on the two sides of a date; n:"
            " pictures; beside it stands the share of random orders with a K at least as large",
        ),
        Paragraph(
            lead="The earlier mount.",
            text="Each measure taken over the skin of the mount was compared with one"
            " individual's bone plus what skin and flesh may add. It is called wrong where fewer"
            " than 1 in 100 right mounts would show so odd a measure. Photographs of the mount and"
            " drawings were marked and judged alike, by their scale or, without one, by their"
            " other lengths.",
        ),
    )


def _judgement(settings: Settings) -> tuple[Block, ...]:
    choices = settings.choices
    return (
        Paragraph(
            lead="What was done.",
            text="Lines of evidence that rest on different things were pooled on the logarithm"
            " of mass, each weighted by its certainty, with room for lines to disagree by more"
            " than their own intervals say. How much they may is itself uncertain; before"
            f" looking it was taken as half-normal with scale {choices.heterogeneity_scale:g} in"
            f" natural logarithms. Reason: {choices.heterogeneity_reason}",
        ),
        Formula(
            text="ln(mass) = Σ w · y",
            where="y: logarithm of each line's mass; w: its weight, from the inverse of the"
            " lines' covariance plus the disagreement between lines",
        ),
        Paragraph(
            text="A second opinion lets each line be gravely wrong with a chance of"
            f" {choices.gravely_wrong_percent:g} % before looking. Reason:"
            f" {choices.gravely_wrong_reason}"
            " A line whose odds to be so have risen fivefold is named; it still counts unless a"
            " row of line_decisions.csv sets it aside, with a reason printed here. Where the legs'"
            " strength is used as a soft bound, a mass outside its window counts"
            f" {choices.outside_window_weight:g} times as much as one inside."
            f" Reason: {choices.outside_window_reason}",
        ),
    )


_METHODS: dict[str, Callable[[Settings], tuple[Block, ...]]] = {
    "skeleton": _skeleton,
    "relatives": _relatives,
    "sections": _sections,
    "body": _body,
    "movement": _movement,
    "testimony": _testimony,
    "judgement": _judgement,
}


def method(step: str, settings: Settings) -> tuple[Block, ...]:
    """Return the paragraphs that say what a step did."""
    return _METHODS[step](settings)


_CAUTIONS = {
    "relatives": (
        "Skins, skeletons and eggs of protected species may not be owned, moved or lent freely,"
        " even when old. National law and the rules of the lending collection decide.",
    ),
    "sections": (
        "Sawing, drilling or sanding bone makes dust that harms lungs and may carry old"
        " preservatives. Prefer a scan; cut only with the curator's leave, dust extraction and a"
        " mask made for fine dust.",
    ),
    "body": (
        "Modelling and casting materials (polyester and epoxy resins, isocyanates, silicones,"
        " plaster dust) can burn, sensitise or poison. Read each safety data sheet, ventilate,"
        " wear gloves and eye protection, and follow local rules for work and waste.",
    ),
    "testimony": (
        "Old mounts and skins were often treated with arsenic or mercury and shed them as dust."
        " Take every one as poisonous until a conservator has tested it: gloves, no eating, no"
        " brushing or blowing, and only vacuum cleaners with high-efficiency filters.",
        "Do not take an old mount down or apart on the strength of this audit alone: its frame"
        " may be rusted through. Ask a conservator first.",
    ),
}


def cautions(step: str) -> Notice | None:
    """Return what can harm people in a step, or None."""
    items = _CAUTIONS.get(step)
    return None if items is None else Notice(kind="caution", title="Take care", items=items)


def to_the_bench() -> Paragraph:
    """Say where the figure of these numbers is prepared for the workshop."""
    return Paragraph(
        lead="To the bench.",
        text="The workshop pack (bonewright pack) takes this standing body to any scale: drawings"
        " and hoops at true scale, parts to print, armature, order list, base, and a card by which"
        " the finished figure is held against the bones.",
    )


def before_building() -> Notice:
    """Return the cautions that concern the figure to be built from this report."""
    return Notice(
        kind="caution",
        title="Before anything is built from these numbers",
        items=(
            "A standing figure is heavy, high and near the public. It can tip, swing or fall."
            " Nothing in this report is a structural calculation: base, armature and fixings are"
            " for a licensed structural engineer, under the local building code.",
            "Original bone should carry no load. A conservator decides whether it may be drilled,"
            " glued or lifted at all.",
            "Fire, escape routes and barriers in the gallery follow local code, not this report.",
        ),
    )
