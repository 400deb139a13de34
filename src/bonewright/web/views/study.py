"""The study as a whole: the verdict, what is missing, what is in doubt, the choices."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="study",
    title="Study",
    lead=(
        "Where the whole job stands: what the evidence supports, what is missing, and which "
        "rows need your decision."
    ),
    template="study.html",
)
