"""What the study's own view shows: the question, the verdict, what is missing, the choices."""

from typing import Any

from bonewright.report.wording import count_words, unit_words
from bonewright.study.settings import RangeChoice, Settings
from bonewright.web.workroom import Standing

__all__ = ["overview_shown"]


def overview_shown(standing: Standing) -> dict[str, Any]:
    """Collect what the study's view shows beside problems, doubts and figures."""
    run, settings = standing.run, standing.settings
    if settings is None and run is not None:
        settings = run.study.settings
    shown: dict[str, Any] = dict.fromkeys(
        ("title", "question", "animal", "scientific_name", "place", "flight"), ""
    ) | dict.fromkeys(("verdict", "caveats", "choices"), ())
    if settings is not None:
        shown |= {
            "title": settings.study.title,
            "question": settings.study.question,
            "animal": settings.animal.name,
            "scientific_name": settings.animal.scientific_name,
            "place": settings.animal.place,
            "flight": settings.animal.flight,
            "choices": _choices(settings),
        }
    if run is not None:
        verdict = run.verdict
        sentences = (
            ("judgement.verdict.mass", verdict.mass_sentence),
            ("judgement.verdict.agreement", verdict.agreement_sentence),
            ("judgement.verdict.movement", verdict.movement_sentence),
            ("judgement.verdict.testimony", verdict.testimony_sentence),
        )
        keys = {finding.key for finding in verdict.findings}
        shown |= {
            "verdict": tuple(
                {"text": sentence, "href": f"/judgement#{key}" if key in keys else ""}
                for key, sentence in sentences
                if sentence
            ),
            "caveats": tuple(dict.fromkeys(caveat.text for caveat in verdict.caveats)),
        }
    return shown


def _choices(settings: Settings) -> list[dict[str, str]]:
    choices = settings.choices
    shown = [
        ("Retransformation correction", choices.retransformation, choices.retransformation_reason),
        ("Body density", _range(choices.body_density), choices.body_density.reason),
        (
            "Maquette's possible error in volume",
            _range(choices.maquette_shape_percent),
            choices.maquette_shape_percent.reason,
        ),
        (
            "Grown body's possible error in volume",
            _range(choices.grown_shape_percent),
            choices.grown_shape_percent.reason,
        ),
        (
            "Body plan traced from",
            choices.body_plan_traced_from,
            choices.body_plan_reason,
        ),
        ("Fat when lean", _range(choices.fat_lean_percent), choices.fat_lean_percent.reason),
        ("Fat over the year", _range(choices.fat_mean_percent), choices.fat_mean_percent.reason),
        ("Fat when fat", _range(choices.fat_fat_percent), choices.fat_fat_percent.reason),
        (
            "Share of weight on the legs",
            _range(choices.weight_on_legs),
            choices.weight_on_legs.reason,
        ),
        ("Compared with living", choices.comparison + "s", choices.comparison_reason),
        (
            "Scale of disagreement between methods",
            f"{choices.heterogeneity_scale:g} (natural logarithm)",
            choices.heterogeneity_reason,
        ),
    ]
    if settings.blind_proof is not None:
        shown.append(("Blind proof", settings.blind_proof.species, settings.blind_proof.reason))
    shown.append(
        (
            "Draws",
            f"{count_words(settings.draws.count)} from seed {settings.draws.seed}",
            "The same seed gives the same numbers.",
        )
    )
    return [{"title": title, "value": value, "reason": reason} for title, value, reason in shown]


def _range(choice: RangeChoice) -> str:
    unit = unit_words(choice.unit)
    value = f"{choice.value:g} {unit}".strip()
    return value if choice.low == choice.high else f"{value} ({choice.low:g} to {choice.high:g})"
