"""Leg strength and what it allows."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="movement",
    title="Movement",
    lead=(
        "Leg strength beside living animals, and the window of masses at which every leg bone "
        "would still be within their range; stresses, speeds, build and balance, each only as "
        "far as it goes."
    ),
    template="movement.html",
)
