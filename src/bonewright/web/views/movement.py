"""What the legs could bear, and so how the animal could move."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="movement",
    title="Movement",
    lead=(
        "How strong each leg bone is for the weight on it, compared with living animals, and "
        "the masses at which every leg bone would still be within their range."
    ),
)
