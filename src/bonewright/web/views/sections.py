"""Cross-sections of leg bones and what they could bear."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="sections",
    title="Sections",
    lead=(
        "Cross-sections of leg bones, by callipers or outline: area, second moments and "
        "section modulus, which the step on movement needs."
    ),
)
