"""Bones and their measurements, and the average skeleton they give."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="skeleton",
    template="skeleton.html",
    title="Skeleton",
    lead=(
        "The bones, what was measured on them, and the average individual they add up to. "
        "Pairs and repeats are reduced first, so that an individual counts once."
    ),
    cautions=(
        Caution(
            title="Handling bones",
            text=(
                "Bone dust and old preservatives harm the lungs: work with extraction and a "
                "mask, and ask the collection's conservator what a bone was treated with. "
                "Parts of protected species fall under the law of the place."
            ),
        ),
    ),
)
