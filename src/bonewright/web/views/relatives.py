"""Living relatives of known mass, and the mass their leg bones predict."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="relatives",
    title="Relatives",
    lead=(
        "Living species whose body mass is known. Several leg bones together, on the tree of the "
        "relatives, say what the lost animal weighed; the same was tried on relatives unseen."
    ),
    template="relatives.html",
)
