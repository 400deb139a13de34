"""Living relatives of known mass, and the mass their leg bones predict."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="relatives",
    title="Relatives",
    lead=(
        "Living species whose body mass is known. The line between their leg bones and "
        "their mass is read off at the lost animal's bones, and tried on a living animal unseen."
    ),
)
