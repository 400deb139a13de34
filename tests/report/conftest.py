"""A small made-up run with every step answered, built without any step's arithmetic.

The report has to set whatever the steps hand it; these results are typed in or drawn
from a seed, so that a fault in a step cannot hide a fault in the report.
"""

import dataclasses
import datetime
from pathlib import Path

import numpy as np
import pytest

from bonewright.body.grown import GrownBody, grow_body
from bonewright.body.lost_parts import LostPartsResult
from bonewright.body.maquette import MaquetteMass
from bonewright.body.plan import body_plan
from bonewright.body.weighing import BodyResult
from bonewright.findings import Caveat, Doubt, Exact, Finding, HowGot, RowRef, Statement
from bonewright.judgement.case import CaseResult
from bonewright.judgement.ground import EvidenceNode
from bonewright.judgement.hypotheses import HypothesisJudged
from bonewright.judgement.next_evidence import NextEvidence
from bonewright.judgement.options import PoolingOption
from bonewright.judgement.overturn import Overturn
from bonewright.judgement.pooling import Line, PooledMass
from bonewright.judgement.verdict import Verdict
from bonewright.movement.legs import HipHeight, LegsResult, how_legs_move
from bonewright.movement.strength import ComparisonAnimal, StrengthOfBone, StrengthResult
from bonewright.movement.stresses import LegBone
from bonewright.pipeline import Run
from bonewright.quantity import Quantity, Summary
from bonewright.relatives.leg_bones import BlindProofResult, LegBoneFit, RelativesResult
from bonewright.relatives.results import Foretold, JointLine, JointTrial, ProofScore
from bonewright.report.blocks import Document
from bonewright.report.document import document_of
from bonewright.sections.properties import MeasuredSection, SectionProperties, SectionsResult
from bonewright.skeleton.average import AverageSkeleton
from bonewright.skeleton.averaging import PlainMean
from bonewright.skeleton.bone_mean import BoneMean
from bonewright.skeleton.individuals import Individuals
from bonewright.skeleton.joint_average import AverageChoice
from bonewright.skeleton.measuring_error import MeasuringError
from bonewright.skeleton.proportions import LimbRatio, Proportions, SizeIndex
from bonewright.skeleton.sorting import SortedRows
from bonewright.skeleton.what_next import MeasureNext, WhatNext
from bonewright.study.model import DateSpan, Decision, Picture, Relative, Source, Study
from bonewright.study.settings import Animal, BlindProof, Choices, Settings, StudyHeader
from bonewright.testimony.marks import MarkedPicture
from bonewright.testimony.witnesses import (
    ChangePoint,
    MountCheck,
    ScoredPicture,
    TestimonyResult,
    WeighedClaim,
)

N_DRAWS = 2000
HOSTILE_TITLE = '#import "x"; <script>alert(1)</script> $ * _ ` \\ {{7*7}} & "quoted"'
LEGS = ("femur", "tibiotarsus", "tarsometatarsus")


def ref(table: str, row: int, row_id: str) -> RowRef:
    return RowRef(table=table, row=row, row_id=row_id)


def lognormal(rng: np.random.Generator, middle: float, spread: float) -> np.ndarray:
    return middle * np.exp(spread * rng.standard_normal(N_DRAWS))


def finding(key: str, title: str, value: object, **more: object) -> Finding:
    how = HowGot(
        formula="Mean over individuals.",
        rows=(ref("measurements", 7, "m-006"),),
        sources=("Driesch1976",),
    )
    settings = {"key": key, "step": key.split(".")[0], "title": title, "value": value, "how": how}
    return Finding(**{**settings, **more})


def make_skeleton(rng: np.random.Generator) -> AverageSkeleton:
    means = {}
    for element in ("skull", "sternum", "humerus", *LEGS):
        for code in ("GL", "SC", "CD"):
            middle = float(rng.uniform(20, 200))
            individuals = middle * (1 + 0.04 * rng.standard_normal(9))
            means[element, code] = BoneMean(
                element=element,
                code=code,
                n_individuals=9,
                n_bones=12,
                n_measurements=20,
                individuals_mm=tuple(float(v) for v in individuals),
                mean_mm=float(individuals.mean()),
                between_sd_mm=float(individuals.std(ddof=1)),
                plain=PlainMean(
                    n=9,
                    mean_mm=float(individuals.mean()),
                    between_sd_mm=float(individuals.std(ddof=1)),
                    degrees_of_freedom=8,
                ),
                mean_draws_mm=individuals.mean() * (1 + 0.013 * rng.standard_normal(N_DRAWS)),
                rows=(ref("measurements", 2, "m-001"),),
            )
    doubts = (
        Doubt(
            ref=ref("measurements", 41, "m-040"),
            column="measurementValue",
            kind="factor of ten",
            found="1712 mm",
            expected="about 171 mm",
            mend="Divide by ten if the decimal point slipped.",
            held_out=True,
        ),
    )
    held = Caveat(code="held-out-row", text="One doubtful row was held out.", rows=(doubts[0].ref,))
    findings = (
        finding(
            "skeleton.mean.femur.GL",
            "Mean femur GL",
            Quantity(draws=lognormal(rng, 170.0, 0.01), unit="mm"),
            n=9,
            n_of="individuals",
            caveats=(held,),
        ),
        finding(
            "skeleton.minimum_individuals",
            "Least number of individuals",
            Exact(value=25.0, unit="1", why_no_interval="a count"),
        ),
    )
    return AverageSkeleton(
        means=means,
        choice=AverageChoice(),
        joint=None,
        from_relatives=None,
        fragments=(),
        measuring=MeasuringError(
            total_percent=0.4,
            within_percent=None,
            between_percent=None,
            instruments_percent=None,
            n_repeated=30,
            n_within=0,
            n_between=0,
            n_instruments=0,
            reliability=None,
            law=(0.0, 0.004),
            by_code=(),
            biases=(),
        ),
        individuals=Individuals(counts=(), pairs=(), n_named=0, n_associated=0),
        sorted_rows=SortedRows(
            bones={},
            grown_bones={},
            measurements=(),
            doubts=(),
            specimens_out=(),
            measurements_out=(),
            would_have_fed={},
        ),
        minimum_number_of_individuals=25,
        doubts=doubts,
        findings=findings,
    )


def make_proportions(rng: np.random.Generator) -> Proportions:
    def draws(middle: float) -> np.ndarray:
        return middle * (1 + 0.01 * rng.standard_normal(N_DRAWS))

    living = tuple((f"Fictus {n}", 0.2 + 0.02 * n, n % 2 == 0) for n in range(12))
    return Proportions(
        standard="Fictus primus",
        chosen=True,
        indices=tuple(
            SizeIndex(
                element=element,
                codes=("GL", "SC"),
                individuals=tuple(float(v) for v in middle + 0.02 * rng.standard_normal(9)),
                draws=middle + 0.005 * rng.standard_normal(N_DRAWS),
                rows=(),
            )
            for element, middle in (("humerus", -0.2), ("femur", 0.03))
        ),
        ratios=tuple(
            LimbRatio(key=key, title=title, draws=draws(0.3), relatives=living, rows=())
            for key, title in (
                ("humerus_over_femur", "Humerus over femur"),
                ("a", "Skull over leg"),
            )
        ),
        findings=(),
    )


def make_measure_next() -> WhatNext:
    return WhatNext(
        in_table=(
            MeasureNext(
                specimen_id="bone-007",
                ref=ref("specimens", 8, "bone-007"),
                code=("femur", "CD"),
                skeleton_gain=0.004,
                mass_gain=0.021,
                rank=1,
                skeleton_rank=1,
            ),
        ),
        further=(
            MeasureNext(
                specimen_id=None,
                ref=None,
                code=("ulna", "GL"),
                skeleton_gain=0.01,
                mass_gain=0.001,
                rank=1,
                skeleton_rank=1,
            ),
        ),
        findings=(),
    )


def make_relatives(rng: np.random.Generator, species: tuple[str, ...]) -> RelativesResult:
    fits = {}
    mass = np.exp(np.linspace(np.log(0.1), np.log(25), len(species)))
    for element in LEGS:
        for code in ("CD", "GL"):
            bone = 14 * mass**0.36 * np.exp(0.04 * rng.standard_normal(len(species)))
            band = tuple(
                (float(x), float(low), float((x / 14) ** 2.7), float(2.1 * (x / 14) ** 2.7))
                for x in np.geomspace(bone.min(), bone.max(), 20)
                for low in [0.48 * (x / 14) ** 2.7]
            )
            fits[element, code] = LegBoneFit(
                element=element,
                code=code,
                species=species,
                bone_mm=bone,
                mass_kg=mass,
                slope=2.7,
                slope_se=0.05,
                intercept_ln=-7.1,
                residual_sd_ln=0.1,
                r_squared=0.98,
                degrees_of_freedom=len(species) - 2,
                correction_name="lognormal",
                correction_factor=1.005,
                leave_one_out_error_percent=float(rng.uniform(6, 30)),
                leave_one_out_coverage_percent=95.0,
                leave_one_out_rms_ln=0.12,
                lost_bone_mm=38.0,
                outside_percent=0.0,
                mass_draws_kg=lognormal(rng, 15.0, 0.12),
                mean_mass_kg=15.1,
                prediction_band=band,
                rows=(),
            )
    proof = BlindProofResult(
        species=species[-1],
        known_mass_kg=25.0,
        predicted=dict.fromkeys(fits, (19.0, 24.0, 31.0)) | {("femur", "GL"): (26.0, 30.0, 34.0)},
        chosen=("femur", "CD"),
        held=True,
    )
    findings = (
        finding(
            "relatives.mass.femur.CD",
            "Mass from femur CD",
            Quantity(draws=fits["femur", "CD"].mass_draws_kg, unit="kg"),
            n=len(species),
            n_of="species",
        ),
    )
    each = tuple(
        Foretold(species=name, known_kg=kg, low_kg=0.8 * kg, middle_kg=1.04 * kg, high_kg=1.3 * kg)
        for name, kg in zip(species, mass.tolist(), strict=True)
    )
    trial = JointTrial(
        name="least circumferences",
        bones=(("femur", "CD"), ("tibiotarsus", "CD")),
        group="",
        tests=tuple(
            ProofScore(
                name=name,
                n=len(species),
                error_percent=9.0,
                mean_ratio=1.02,
                coverage_percent=95.0,
                log_score=0.6,
            )
            for name in ("a quarter left out in turn", "heaviest fifth left out")
        ),
        score=0.6,
    )
    joint = JointLine(
        bones=trial.bones,
        species=species,
        mass_draws_kg=lognormal(rng, 15.2, 0.1),
        trial=trial,
        trials=(trial,),
        each_left_out=each,
        heaviest_out=each[-3:],
        heaviest_kg=float(mass.max()),
        heavy_percent=80.0,
        by_descent_percent=40.0,
        misfit_p=0.4,
        lines_percent=6.0,
        n_trees=1,
        placed="at the root of the tree, kin to all relatives alike",
        rows=(),
    )
    return RelativesResult(
        fits=fits,
        chosen=("femur", "CD"),
        blind_proof=proof,
        doubts=(),
        findings=findings,
        joint=joint,
    )


def ellipse(a: float, b: float) -> tuple[tuple[float, float], ...]:
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    return tuple((float(a * np.cos(t)), float(b * np.sin(t))) for t in angle)


def make_sections(rng: np.random.Generator, species: tuple[str, ...]) -> SectionsResult:
    properties = SectionProperties(
        area_mm2=90.0,
        centroid_mm=(0.0, 0.0),
        second_moment_mediolateral_mm4=2000.0,
        second_moment_anteroposterior_mm4=2100.0,
        product_moment_mm4=0.0,
        greatest_moment_mm4=2100.0,
        least_moment_mm4=2000.0,
        axis_of_greatest_rad=1.57,
        polar_moment_mm4=4100.0,
        section_modulus_mediolateral_mm3=300.0,
        section_modulus_anteroposterior_mm3=310.0,
        section_modulus_greatest_mm3=310.0,
        section_modulus_least_mm3=300.0,
        farthest_fibre_mm=6.8,
        whole_area_mm2=140.0,
        mean_perimeter_mm=38.0,
    )
    measured = tuple(
        MeasuredSection(
            ref=ref("sections", 2 + place, f"sec-{place:02d}"),
            section_id=f"sec-{place:02d}",
            species=None if place < 9 else species[0],
            specimen_id=f"b-{place}" if place < 9 else None,
            element=LEGS[place % 3],
            position_fraction=0.5,
            bone_length_mm=170.0,
            distance_to_distal_end_mm=85.0,
            properties=properties,
            outline_mm=(ellipse(8, 7.5 - place / 9), ellipse(5.5, 5.0 - place / 9)),
        )
        for place in range(12)
    )
    all_along = tuple(
        dataclasses.replace(
            measured[0], section_id=f"sec-{percent}", position_fraction=percent / 100
        )
        for percent in (20, 40, 60, 80)
    )
    return SectionsResult(
        measured=measured + all_along,
        modulus_over_arm_draws_mm2={e: lognormal(rng, 4.0, 0.05) for e in LEGS},
        species_modulus_over_arm_mm2={(species[0], e): 1.0 for e in LEGS},
        doubts=(),
        findings=(
            finding(
                "sections.modulus.femur",
                "Section modulus of the average femur",
                Quantity(draws=lognormal(rng, 300.0, 0.06), unit="mm3"),
                n=3,
                n_of="sections",
            ),
        ),
    )


def make_grown(rng: np.random.Generator) -> GrownBody:
    """Grow a body from the bones its plan refers to."""
    plan = body_plan((), ())
    needed = {
        key
        for part in plan.segments.values()
        for key in (
            (part.segment.element, part.segment.code),
            *((h.element, h.code) for h in part.hoops if h.element and h.code),
        )
    }
    sizes_mm = {"AA": 92.0, "LV": 171.0, "GB": 52.0}
    lengths_mm = {"tibiotarsus": 260.0, "humerus": 98.0, "ulna": 71.0, "mandible": 121.0}
    bones = {
        (element, code): lognormal(rng, sizes_mm.get(code, lengths_mm.get(element, 150.0)), 0.01)
        for element, code in sorted(needed)
    }
    return grow_body(
        plan,
        bone_draws_mm=bones,
        tissues=(),
        choices=Choices(),
        density_draws_kg_m3=lognormal(rng, 950.0, 0.05),
        rng=rng,
    )


def make_movement(rng: np.random.Generator, species: tuple[str, ...]) -> StrengthResult:
    bones = {
        element: StrengthOfBone(
            element=element,
            indicator_draws_per_gpa=lognormal(rng, 25.0, 0.15),
            comparison_range_per_gpa=(15.0, 44.0),
            window_low_draws_kg=lognormal(rng, 8.5, 0.1),
            window_high_draws_kg=lognormal(rng, 25.0, 0.1),
            n_comparison=6,
        )
        for element in LEGS
    }
    comparison = tuple(
        ComparisonAnimal(
            species=name,
            locomotion="runner",
            element=element,
            body_mass_kg=2.0 + 4 * place,
            indicator_per_gpa=float(rng.uniform(15, 44)),
        )
        for place, name in enumerate(species[-6:])
        for element in LEGS
    )
    return StrengthResult(
        comparison=comparison,
        bones=bones,
        joint_low_draws_kg=lognormal(rng, 9.5, 0.08),
        joint_high_draws_kg=lognormal(rng, 23.0, 0.08),
        share_without_window=0.01,
        share_inside=0.97,
        findings=(
            finding(
                "movement.could_run",
                "Could it run?",
                Statement(text="By this test it could very likely run."),
            ),
        ),
    )


def make_legs(rng: np.random.Generator) -> LegsResult:
    bones = {
        element: LegBone(
            element=element,
            modulus_mm3=lognormal(rng, 300.0, 0.06),
            torsion_modulus_mm3=lognormal(rng, 500.0, 0.06),
            area_mm2=lognormal(rng, 90.0, 0.04),
            arm_mm=lognormal(rng, 80.0, 0.02),
            angle_rad=lognormal(rng, 0.6, 0.2),
            bow_mm=lognormal(rng, 3.0, 0.3),
            twist_arm_mm=lognormal(rng, 8.0, 0.3),
        )
        for element in LEGS
    }
    ones = lognormal(rng, 1.0, 0.0)
    return how_legs_move(
        bones,
        mass_draws_kg=lognormal(rng, 15.1, 0.09),
        weight_fraction_draws=ones,
        duty_factors={"standing": ones, "walking": 0.65 * ones, "running": 0.4 * ones},
        strength_draws_mpa=lognormal(rng, 233.0, 0.2),
        hip=HipHeight(draws_m=lognormal(rng, 0.5, 0.02), origin="leg bones", inputs=()),
        proportions=(),
        balance=(),
        scatter=rng.standard_normal(len(ones)),
    )


def make_testimony() -> TestimonyResult:
    pictures = tuple(
        ScoredPicture(
            picture_id=f"pic-{place:02d}",
            title=f"Drawing {place}",
            date=DateSpan(earliest=1640 + 9 * place, latest=1643 + 9 * place, text="about then"),
            score=None if place == 5 else 1.5 + 0.25 * place,
            n_scorers=0 if place == 5 else 3,
            copy_of="pic-03" if place in {8, 10} else None,
        )
        for place in range(12)
    )
    change = ChangePoint(
        with_copies=True,
        n=11,
        statistic=28.0,
        p_formula=0.03,
        p_permutation=0.02,
        p_dates=(0.01, 0.08),
        last_before=1686.0,
        first_after=1695.0,
        mean_before=2.0,
        mean_after=3.8,
    )
    claims = tuple(
        WeighedClaim(
            claim_id=f"clm-{place}",
            account_id=f"acc-{place % 4}",
            account_title=("A ship's log", "A letter", "A natural history", "A reprint")[place % 4],
            date=DateSpan(
                earliest=1650 + 20 * (place % 4), latest=1652 + 20 * (place % 4), text=""
            ),
            standing="eyewitness",
            is_copy=place % 4 == 3,
            kind=("weight", "height", "movement", "weight")[place % 4],
            value=(22.0, 0.9, None, 22.0)[place % 4],
            statement="as big as a goose",
        )
        for place in range(6)
    )
    mount = tuple(
        MountCheck(
            measurement_id=f"mt-{place}",
            mount_id="mount-1",
            title=("length of the head", "length of the thigh", "length of the lower leg")[place],
            element="femur",
            code="GL",
            found_mm=(260.0, 171.0, 270.0)[place],
            expected_mm=((150.0, 175.0), (160.0, 185.0), (255.0, 290.0))[place],
            ratio=(1.6, 0.99, 0.99)[place],
            chance_percent=(0.01, 80.0, 85.0)[place],
            wrong=place == 0,
            words=("head 1.6 times too long", "thigh right", "lower leg right")[place],
        )
        for place in range(3)
    )
    photograph = MarkedPicture(
        picture=Picture(
            ref=RowRef(table="pictures", row=14, row_id="photo-1"),
            picture_id="photo-1",
            title="photograph of the mount",
            date=DateSpan(earliest=2026.0, latest=2027.0, text="2026"),
            drawn_from="dead specimen",
            copy_of=None,
            creator=None,
            reliability=None,
            source_id=None,
            shows_mount=True,
            scale_mm=100.0,
        ),
        points={
            "toe root": np.array([100.0, 10.0]),
            "heel joint": np.array([105.0, 90.0]),
            "knee": np.array([80.0, 180.0]),
            "scale start": np.array([10.0, 5.0]),
            "scale end": np.array([60.0, 5.0]),
        },
        outline=np.array([[40.0, 150.0], [180.0, 160.0], [150.0, 260.0], [60.0, 250.0]]),
        error_px=0.7,
        n_repeats=5,
        observers=("observer A",),
        refs=(),
    )
    lengths = tuple(
        dataclasses.replace(
            mount[0], measurement_id=f"photo-1.{element}.GL", element=element, wrong=wrong
        )
        for element, wrong in (("tarsometatarsus", True), ("tibiotarsus", False))
    )
    return TestimonyResult(
        marked=(photograph,),
        picture_checks={"photo-1": lengths},
        pictures=pictures,
        change_points=(change, dataclasses.replace(change, with_copies=False, n=9)),
        claims=claims,
        mount=mount,
        doubts=(),
        findings=(
            finding(
                "testimony.change.independent",
                "Change in fatness, copies set aside",
                Statement(text="The pictures grow fatter after about 1690."),
            ),
        ),
    )


def make_study(title: str) -> Study:
    return Study(
        folder=Path("nowhere"),
        settings=Settings(
            study=StudyHeader(title=title, question="How heavy was it?", invented=True),
            animal=Animal(name="giant rail", scientific_name="Rallus fictus", place="Nowhere Isle"),
            blind_proof=BlindProof(species="Species l", reason="Large and flightless."),
        ),
        sources=(
            Source(
                ref=ref("sources", 2, "src-1"),
                source_id="src-1",
                citation="An invented monograph on <rails> & #others.",
                kind="paper",
                reliability="B",
                reliability_reason="seen",
            ),
        ),
        relatives=tuple(
            Relative(
                ref=ref("relatives", 2 + place, name),
                species=name,
                family="Rallidae",
                locomotion="runner",
                flight="flying" if place % 3 else "flightless",
                body_mass_kg=1.0,
                n_weighed=3,
                source_id=None,
            )
            for place, name in enumerate(species_names())
        ),
        decisions=(
            Decision(
                ref=ref("decisions", 2, "d-1"),
                table="measurements",
                row_id="m-099",
                decision="keep",
                reason="Measured twice, it is that long.",
            ),
        ),
    )


def species_names() -> tuple[str, ...]:
    return tuple(f"Species {letter}" for letter in "abcdefghijkl")


def make_options() -> tuple[PoolingOption, ...]:
    """Return three ways to pool, one of them beyond any animal."""
    return tuple(
        PoolingOption(
            key=key,
            title=title,
            middle_kg=15.1,
            low_kg=low,
            high_kg=high,
            tau_ln=tau,
            argument="Typed in for a test.",
            default=key == "half_normal",
        )
        for key, title, low, high, tau in (
            ("half_normal", "Prior on how methods differ", 12.6, 18.1, 0.05),
            ("common", "Stated uncertainties only", 13.4, 17.0, 0.0),
            ("reml", "REML, interval of Knapp and Hartung", 1e-6, 1e9, None),
        )
    )


def make_case() -> CaseResult:
    def summary(middle: float) -> Summary:
        return Summary(
            median=middle,
            mean=middle,
            sd=1.0,
            interval50=(0.95 * middle, 1.05 * middle),
            interval95=(0.85 * middle, 1.15 * middle),
        )

    return CaseResult(
        nodes=(
            EvidenceNode(
                key="relatives.mass.femur.CD",
                title="Leg bones: femur CD",
                about="mass",
                bearing="pooled",
                rests_on=("average skeleton", "living relatives"),
            ),
            EvidenceNode(
                key="movement.window",
                title="Strength of living runners' legs",
                about="mass",
                bearing="bound",
                rests_on=("average skeleton", "bone sections"),
            ),
            EvidenceNode(
                key="testimony.claim.c-1",
                title="Heights claimed (2 estimates)",
                about="height",
                bearing="claim",
                rests_on=("accounts",),
                count=2,
            ),
        ),
        shared=(),
        bounded=None,
        flips_at_kg=None,
        overturns=(
            Overturn(
                key="relatives.mass.femur.CD",
                title="Leg bones: femur CD",
                says_kg=15.0,
                above_kg=30.0,
                below_kg=None,
                flips_kg=None,
            ),
        ),
        next_evidence=(NextEvidence(action="measure more femora", narrower_percent=8.0),),
        hypotheses=(
            HypothesisJudged(
                key="h-1",
                title="fat in one season",
                reason="An idea.",
                states=("lean", "fat"),
                masses_kg={"lean": summary(13.0), "fat": summary(18.0)},
                strength={},
                share_strong={"lean": 0.98, "fat": None},
                fasting_days=summary(40.0),
                explains=("a drawing",),
                contradicts=("a print", "an oil sketch"),
                ln_likelihood=-2.0,
                n_witnesses=3,
                own=(),
                prior=0.5,
                posterior=0.999,
            ),
        ),
        findings=(),
    )


def make_run(title: str = "The rail of Nowhere Isle") -> Run:
    rng = np.random.default_rng(7)
    species = species_names()
    skeleton, relatives = make_skeleton(rng), make_relatives(rng, species)
    sections, movement = make_sections(rng, species), make_movement(rng, species)
    testimony = make_testimony()
    volume = lognormal(rng, 0.0158, 0.1)
    body = BodyResult(
        maquettes={
            "maquette-1": MaquetteMass(
                body_id="maquette-1",
                state="mean",
                scale_denominator=4.0,
                readings_m3=(0.000244, 0.000246, 0.000247),
                volume_draws_m3=volume,
                mass_draws_kg=950 * volume,
                rows=(),
            )
        },
        scans={},
        grown=make_grown(rng),
        fasting=None,
        parts=LostPartsResult(sizes={}, doubts=(), findings=()),
        foretold_bones=(),
        models=(),
        density_draws_kg_m3=np.full(len(volume), 950.0),
        gaps=(),
        doubts=(),
        findings=(
            finding(
                "body.mass.maquette-1",
                "Mass of maquette-1",
                Quantity(draws=950 * volume, unit="kg"),
                n=3,
                n_of="readings",
            ),
        ),
    )
    lines = (
        Line(
            key="relatives.mass.femur.CD",
            title="Leg bones: femur CD",
            mass_draws_kg=relatives.fits["femur", "CD"].mass_draws_kg,
            pooled=True,
            reason="Predicts best.",
            rests_on=("average skeleton",),
        ),
        Line(
            key="relatives.mass.femur.GL",
            title="Leg bones: femur GL",
            mass_draws_kg=relatives.fits["femur", "GL"].mass_draws_kg,
            pooled=False,
            reason="Same bones.",
            rests_on=("average skeleton",),
        ),
        Line(
            key="body.mass.maquette-1",
            title="Maquette maquette-1 (mean)",
            mass_draws_kg=950 * volume,
            pooled=True,
            reason="Rests on neither.",
            rests_on=("maquette",),
        ),
    )
    mass = lognormal(rng, 15.1, 0.09)
    pooled = PooledMass(
        lines=lines,
        mass_draws_kg=mass,
        weights_percent={lines[0].key: 55.0, lines[2].key: 45.0},
        tau_ln=0.05,
        tau_interval_ln=(0.0, 1.2),
        q_statistic=0.2,
        q_p_value=0.65,
        i_squared_percent=0.0,
        without={
            line.key: Quantity(draws=line.mass_draws_kg, unit="kg").summary()
            for line in (lines[2], lines[0])
        },
        options=make_options(),
        wrong_percent={lines[0].key: 3.0, lines[2].key: 2.0},
        findings=(
            finding(
                "judgement.mass", "Pooled mass", Quantity(draws=mass, unit="kg"), n=2, n_of="lines"
            ),
        ),
    )
    verdict = Verdict(
        mass_sentence="The average animal weighed about 15 kg (13 to 18).",
        agreement_sentence="The two lines of evidence agree.",
        movement_sentence="By this test it could very likely run.",
        testimony_sentence="The pictures grow fatter after about 1690.",
        caveats=(Caveat(code="few-lines", text="Only two lines of evidence were pooled."),),
        findings=(),
    )
    results = (skeleton, relatives, sections, body, movement, testimony, pooled)
    return Run(
        study=make_study(title),
        skeleton=skeleton,
        relatives=relatives,
        sections=sections,
        body=body,
        pooled=pooled,
        case=make_case(),
        movement=movement,
        legs=make_legs(rng),
        testimony=testimony,
        verdict=verdict,
        unanswered={},
        findings=tuple(f for result in results for f in result.findings),
        doubts=skeleton.doubts,
        measure_next=make_measure_next(),
        proportions=make_proportions(np.random.default_rng(8)),
    )


@pytest.fixture(scope="session")
def full_run() -> Run:
    return make_run()


@pytest.fixture(scope="session")
def full_document(full_run: Run) -> Document:
    return document_of(full_run, made=datetime.date(2026, 11, 25))


@pytest.fixture(scope="session")
def hostile_document(hostile_run: Run) -> Document:
    return document_of(hostile_run, made=datetime.date(2026, 11, 25))


@pytest.fixture(scope="session")
def hostile_run() -> Run:
    return make_run(HOSTILE_TITLE)


@pytest.fixture(scope="session")
def empty_run() -> Run:
    """A run of a study that holds nothing yet."""
    nothing = "Needed: rows. Found: none. What would help: rows."
    steps = ("skeleton", "relatives", "sections", "body", "movement", "testimony", "judgement")
    return dataclasses.replace(
        make_run("Nothing yet"),
        skeleton=None,
        measure_next=None,
        proportions=None,
        relatives=None,
        sections=None,
        body=None,
        pooled=None,
        case=None,
        movement=None,
        legs=None,
        testimony=None,
        unanswered=dict.fromkeys(steps, nothing),
        findings=(),
        doubts=(),
    )
