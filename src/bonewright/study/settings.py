"""study.toml: the animal, the question, the choices made (each with a reason), the seed."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

__all__ = [
    "Animal",
    "BlindProof",
    "Choices",
    "Deposit",
    "DrawSettings",
    "Proportions",
    "RangeChoice",
    "Settings",
    "StudyHeader",
    "Tree",
    "Witness",
    "Word",
]

Word = Annotated[str, Field(min_length=1, max_length=2000)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class StudyHeader(_Part):
    """What the study is. ``invented`` marks a made-up study wherever it is shown."""

    title: Word = Field(description="Title of the study, as the report prints it.")
    question: Word = Field(description="What the study is to answer.")
    invented: bool = Field(
        default=False, description="true marks a made-up study on every page it appears on."
    )
    format: Literal[1] = Field(default=1, description="Version of this folder's layout. Leave it.")


class Animal(_Part):
    """The lost animal."""

    name: Word = Field(description="What you call the animal.")
    scientific_name: str = Field(default="", description="Its scientific name, if it has one.")
    place: str = Field(default="", description="Where it lived.")
    flight: Literal["flying", "flightless", "unknown"] = Field(
        default="unknown", description="Whether it flew: flying, flightless or unknown."
    )


class DrawSettings(_Part):
    """How many imagined worlds, and the seed they grow from."""

    seed: Annotated[int, Field(ge=0, le=2**63 - 1)] = Field(
        default=1,
        description="Any whole number. The same seed gives the same results again.",
    )
    count: Annotated[int, Field(ge=500, le=1_000_000)] = Field(
        default=20_000,
        description="How many worlds to imagine: more is slower and steadier.",
    )


class RangeChoice(_Part):
    """A best value with the range that holds it 19 times in 20, and why."""

    value: float = Field(description="Best value.")
    low: float = Field(description="Low end of the range that holds it 19 times in 20.")
    high: float = Field(description="High end of that range.")
    unit: str = Field(description="Unit of the three numbers. Keep it and convert the numbers.")
    reason: Word = Field(description="Why these numbers.")

    @model_validator(mode="after")
    def _in_order(self) -> "RangeChoice":
        if not self.low <= self.value <= self.high:
            raise ValueError("low, value and high must stand in that order")
        return self


class Choices(_Part):
    """The choices a reader could dispute. Each names its reason."""

    average: Literal[
        "arithmetic",
        "geometric",
        "median",
        "percentile",
        "larger sex",
        "smaller sex",
        "female",
        "male",
    ] = Field(
        default="arithmetic",
        description="What the average skeleton is: the arithmetic or geometric mean, the median"
        " individual, a percentile (the largest, say), the larger sex, the smaller sex, female"
        " or male.",
    )
    average_percentile: Annotated[float, Field(gt=0, lt=100)] = Field(
        default=50.0,
        description='With average = "percentile": how many percent of its kind it is larger than.',
    )
    average_sexes: Literal["as found", "both alike"] = Field(
        default="as found",
        description="as found: every individual counts alike; both alike: the middle of the two"
        " sexes, however many of each were collected.",
    )
    average_reason: Word = Field(
        default="The mean of grown birds of both sexes is what 'average' commonly means.",
        description="Why that average.",
    )
    retransformation: Literal["lognormal", "smearing", "ratio", "none"] = Field(
        default="lognormal",
        description="How a line fitted on logarithms is turned back into a mean mass:"
        " lognormal, smearing, ratio or none.",
    )
    retransformation_reason: Word = Field(
        default="The mean mass is wanted, and a line on logarithms predicts the median.",
        description="Why that way.",
    )
    body_density: RangeChoice = Field(
        default=RangeChoice(
            value=0.95,
            low=0.85,
            high=1.05,
            unit="kg/L",
            reason="Living ground bird with lungs and air sacs, plumage not counted"
            " (common practice).",
        ),
        description="Mass of the living body over the volume its model displaces.",
    )
    maquette_shape_percent: RangeChoice = Field(
        default=RangeChoice(
            value=0.0,
            low=-20.0,
            high=20.0,
            unit="%",
            reason="How far a modeller's guess of the flesh may be off in volume"
            " (common practice).",
        ),
        description="How much too small the model's volume may be (below 0: too large).",
    )
    grown_shape_percent: RangeChoice = Field(
        default=RangeChoice(
            value=0.0,
            low=-25.0,
            high=25.0,
            unit="%",
            reason="How far the hoops of the body plan may be off in volume (common practice).",
        ),
        description="How much too small the body grown from the skeleton may be (below 0: too"
        " large).",
    )
    fat_lean_percent: RangeChoice = Field(
        default=RangeChoice(
            value=4.0,
            low=2.0,
            high=8.0,
            unit="%",
            reason="A wild ground bird in its lean season (common practice).",
        ),
        description="Fat in percent of body mass when it was lean.",
    )
    fat_mean_percent: RangeChoice = Field(
        default=RangeChoice(
            value=10.0,
            low=6.0,
            high=16.0,
            unit="%",
            reason="A wild ground bird over the year (common practice).",
        ),
        description="Fat in percent of body mass over the year.",
    )
    fat_fat_percent: RangeChoice = Field(
        default=RangeChoice(
            value=24.0,
            low=14.0,
            high=35.0,
            unit="%",
            reason="Up to 35 % is published for a ptarmigan in autumn, the most of any ground"
            " bird at hand.",
        ),
        description="Fat in percent of body mass when it was fat.",
    )
    fat_in_belly_percent: RangeChoice = Field(
        default=RangeChoice(
            value=40.0,
            low=20.0,
            high=60.0,
            unit="%",
            reason="Fowl lay fat under the skin and in the belly in like amounts (common"
            " practice).",
        ),
        description="Share of the fat that lies in the belly; the rest lies under the skin.",
    )
    skin_thickness: RangeChoice = Field(
        default=RangeChoice(
            value=1.5,
            low=0.8,
            high=3.0,
            unit="mm",
            reason="Skin of large ground birds (common practice).",
        ),
        description="Thickness of the skin without fat.",
    )
    plumage_depth_percent: RangeChoice = Field(
        default=RangeChoice(
            value=100.0,
            low=60.0,
            high=150.0,
            unit="%",
            reason="How deep the plumage stands is no more than the plan's judgement (common"
            " practice).",
        ),
        description="Depth of the plumage, in percent of what the body plan says.",
    )
    fasting_rate: RangeChoice = Field(
        default=RangeChoice(
            value=1.3,
            low=1.0,
            high=1.8,
            unit="1",
            reason="A resting bird that eats nothing spends little more than its basal rate"
            " (common practice).",
        ),
        description="What a fasting bird spends, over its basal metabolic rate.",
    )
    body_plan_traced_from: Literal["nothing", "maquette", "scan", "picture"] = Field(
        default="nothing",
        description="What the hoops of the body plan were traced from: nothing, maquette, scan"
        " or picture. A body traced from the maquette is no second witness beside it.",
    )
    body_plan_reason: Word = Field(
        default="The plan is this program's judgement of a ground bird's build.",
        description="Why that plan.",
    )
    weight_on_legs: RangeChoice = Field(
        default=RangeChoice(
            value=1.0,
            low=1.0,
            high=1.0,
            unit="1",
            reason="A two-legged animal carries its whole weight on one pair of legs.",
        ),
        description="Share of the weight that the measured pair of legs carries.",
    )
    weathered_section_percent: RangeChoice = Field(
        default=RangeChoice(
            value=4.0,
            low=0.0,
            high=12.0,
            unit="%",
            reason="A surface lost to a depth of about 1 % of the diameter takes 4 % of the"
            " section modulus (derivation); how deep is common practice.",
        ),
        description="How much too small the section modulus of a weathered bone is.",
    )
    comparison: Literal["runner", "walker", "wader"] = Field(
        default="runner",
        description="Which living species its legs are compared with: runner, walker or wader.",
    )
    comparison_reason: Word = Field(
        default="The question is whether it could run.", description="Why those."
    )
    comparison_bounds: Literal["range", "t-interval", "kernel density"] = Field(
        default="range",
        description="What counts as like the animals compared: their range; t-interval, where"
        " one more of them would lie 19 times in 20; or the middle 95 % of a kernel density.",
    )
    comparison_bounds_reason: Word = Field(
        default="The range says no more than what was measured.", description="Why so."
    )
    comparison_with_published: bool = Field(
        default=False,
        description="true adds published indicators of animals that move so to those compared.",
    )
    average_fat_percent: RangeChoice = Field(
        default=RangeChoice(
            value=10.0,
            low=4.0,
            high=18.0,
            unit="%",
            reason="Birds outside the fattening season (common practice).",
        ),
        description="Share of fat in the average animal's mass.",
    )
    femur_angle: RangeChoice = Field(
        default=RangeChoice(
            value=50.0,
            low=30.0,
            high=70.0,
            unit="deg",
            reason="Ground birds hold the thigh slanting forwards (common practice).",
        ),
        description="Angle of the femur from the vertical at mid-step.",
    )
    tibiotarsus_angle: RangeChoice = Field(
        default=RangeChoice(
            value=25.0,
            low=10.0,
            high=40.0,
            unit="deg",
            reason="Ground birds hold the shank steeply (common practice).",
        ),
        description="Angle of the tibiotarsus from the vertical at mid-step.",
    )
    tarsometatarsus_angle: RangeChoice = Field(
        default=RangeChoice(
            value=20.0,
            low=5.0,
            high=35.0,
            unit="deg",
            reason="Ground birds hold the foot bone steeply (common practice).",
        ),
        description="Angle of the tarsometatarsus from the vertical at mid-step.",
    )
    walking_duty_factor: RangeChoice = Field(
        default=RangeChoice(
            value=0.65,
            low=0.55,
            high=0.75,
            unit="1",
            reason="Walking birds (common practice).",
        ),
        description="Share of a walking stride that a foot is on the ground.",
    )
    running_duty_factor: RangeChoice = Field(
        default=RangeChoice(
            value=0.4,
            low=0.3,
            high=0.5,
            unit="1",
            reason="Running birds; it does not change with size (common practice).",
        ),
        description="Share of a running stride that a foot is on the ground.",
    )
    twist_arm_percent: RangeChoice = Field(
        default=RangeChoice(
            value=5.0,
            low=0.0,
            high=12.0,
            unit="%",
            reason="How far the push of the ground passes beside a leg bone (common practice).",
        ),
        description="Arm of the twisting force, in percent of the bone's length.",
    )
    shaft_bow_percent: RangeChoice = Field(
        default=RangeChoice(
            value=2.0,
            low=0.0,
            high=5.0,
            unit="%",
            reason="Bow of a bird's leg bone where none was measured (common practice).",
        ),
        description="How far mid-shaft lies off the line through a bone's ends, in percent of"
        " its length.",
    )
    bone_strength: RangeChoice = Field(
        default=RangeChoice(
            value=233.0,
            low=129.0,
            high=337.0,
            unit="MPa",
            reason="Bending strength of limb bones of small mammals and bipedal birds, 233 with"
            " standard deviation 53 (Biewener 1982).",
        ),
        description="Stress at which fresh leg bone breaks.",
    )
    heterogeneity_scale: Annotated[float, Field(gt=0, le=2)] = Field(
        default=0.2,
        description="How far honest methods may differ beyond their own intervals, on"
        " natural logarithms (0.2 is about a fifth).",
    )
    heterogeneity_reason: Word = Field(
        default="Honest methods for one animal's mass commonly differ by up to a fifth or two"
        " (common practice).",
        description="Why that far.",
    )
    gravely_wrong_percent: Annotated[float, Field(gt=0, le=40)] = Field(
        default=10.0,
        description="Chance that a given line of evidence is gravely wrong, in percent, for the"
        " second opinion and for naming a line that is out.",
    )
    gravely_wrong_reason: Word = Field(
        default="One estimate in ten hides a gross mistake (common practice).",
        description="Why that chance.",
    )
    outside_window_weight: Annotated[float, Field(ge=0, le=1)] = Field(
        default=0.1,
        description="How likely a mass outside the window of the legs' strength is, beside one"
        " inside it, where the window is used as a soft bound: 0 forbids it, 1 ignores it.",
    )
    outside_window_reason: Word = Field(
        default="A few measured animals do not span all that live (common practice).",
        description="Why that much.",
    )


class BlindProof(_Part):
    """The living relative whose known mass the leg-bone method must find unseen."""

    species: Word = Field(
        description="A living species of the relatives table.", examples=["Invented species"]
    )
    reason: Word = Field(
        description="Why that one.", examples=["The relative most like the lost animal."]
    )


class Tree(_Part):
    """The file that holds the tree of relatives, below files/, and the lost animal's place."""

    file: Word = Field(
        description="Newick or NEXUS file inside files/, of one tree or up to 10,000.",
        examples=["relatives.nwk"],
    )
    beside: tuple[Word, ...] = Field(
        default=(),
        description="Species whose clade the lost animal stands beside; none: at the root.",
        examples=[["Invented species", "Invented sister"]],
    )
    stem_age: Annotated[tuple[float, ...], Field(max_length=2)] = Field(
        default=(),
        description="When its line left theirs, before the present, youngest and oldest, in the"
        " tree's unit; none: anywhere on their stem.",
        examples=[[5.0, 20.0]],
    )
    stem_age_reason: str = Field(default="", description="Why then.", examples=["Oldest fossil."])
    synonyms: tuple[tuple[Word, Word], ...] = Field(
        default=(),
        description="Pairs: a name in the tree, and the name in the tables it stands for.",
        examples=[[["Old name", "Invented species"]]],
    )

    @model_validator(mode="after")
    def _range_of_ages(self) -> "Tree":
        if self.stem_age and (
            len(self.stem_age) != 2 or not 0 < self.stem_age[0] <= self.stem_age[1]
        ):
            raise ValueError("stem_age must hold two ages above 0, the youngest first")
        return self


class Witness(_Part):
    """The years between which pictures and accounts can lie."""

    earliest: Annotated[int, Field(ge=-3000, le=2100)] = Field(
        description="First year in which anyone can have seen it.", examples=[1600]
    )
    latest: Annotated[int, Field(ge=-3000, le=2100)] = Field(
        description="Last year from which a picture or account is taken.", examples=[1750]
    )

    @model_validator(mode="after")
    def _in_order(self) -> "Witness":
        if self.earliest > self.latest:
            raise ValueError("earliest must not come after latest")
        return self


class Proportions(_Part):
    """What the bones are compared with for their proportions (log size index)."""

    standard: Word = Field(
        description="A species of the relatives table, or an individual (organismID) or bone of"
        " the specimens table, whose measurements are the standard.",
        examples=["Invented species"],
    )
    reason: Word = Field(
        description="Why that one.", examples=["The relative with the most measurements."]
    )


class Trackway(_Part):
    """A stride measured in tracks of the animal, from which a speed follows."""

    stride_m: Annotated[float, Field(gt=0.02, le=15)] = Field(
        description="Stride in m: from one print of a foot to the next print of the same foot.",
        examples=[0.62],
    )
    stride_low_m: Annotated[float, Field(gt=0.02, le=15)] = Field(
        description="Low end of the range that holds it 19 times in 20.", examples=[0.58]
    )
    stride_high_m: Annotated[float, Field(gt=0.02, le=15)] = Field(
        description="High end of that range.", examples=[0.66]
    )
    reason: Word = Field(
        description="Where the tracks are, and why they are this animal's.",
        examples=["Tracks beside its bones, of a foot as long."],
    )

    @model_validator(mode="after")
    def _in_order(self) -> "Trackway":
        if not self.stride_low_m <= self.stride_m <= self.stride_high_m:
            raise ValueError("stride_low_m, stride_m and stride_high_m must stand in that order")
        return self

    def stride(self) -> RangeChoice:
        """Return the stride as a best value with its range."""
        return RangeChoice(
            value=self.stride_m,
            low=self.stride_low_m,
            high=self.stride_high_m,
            unit="m",
            reason=self.reason,
        )


class Deposit(_Part):
    """What an archive asks of whoever deposits the study."""

    creators: tuple[Word, ...] = Field(
        default=(), description="Who made the study: institutions or teams, first one first."
    )
    publisher: str = Field(default="", description="The archive or museum that publishes it.")
    license: Word = Field(
        default="All rights reserved",
        description="The licence under which others may use it, by its usual name.",
    )
    license_url: str = Field(default="", description="Where that licence can be read.")
    keywords: tuple[Word, ...] = Field(default=(), description="Words to find it by.")


class Settings(_Part):
    """All of study.toml."""

    study: StudyHeader
    animal: Animal
    draws: DrawSettings = DrawSettings()
    choices: Choices = Choices()
    blind_proof: BlindProof | None = None
    tree: Tree | None = None
    witness: Witness | None = None
    deposit: Deposit = Deposit()
    proportions: Proportions | None = None
    trackway: Trackway | None = None
