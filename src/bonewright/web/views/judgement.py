"""The lines of evidence weighed together."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="judgement",
    title="Judgement",
    lead=(
        "The independent lines of evidence on mass weighed together: what they agree on, what "
        "they do not, and how far the answer moves when one of them is left out."
    ),
    template="judgement.html",
)
