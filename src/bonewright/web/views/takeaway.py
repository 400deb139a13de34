"""What leaves the workroom: report, label, archive, and runs laid side by side."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="takeaway",
    title="Take away",
    lead=(
        "What leaves the workroom: the report to defend, words for the label, the pack for the "
        "workshop, a file to deposit, and two runs laid side by side. Each is made beside your "
        "work; you can go on."
    ),
    cautions=(
        Caution(
            title="Building",
            text=(
                "A figure heavy enough to hurt can tip or fail: have a licensed structural "
                "engineer check armature, base and floor under the local code. Resin, silicone "
                "and the dust of foam and bone harm lungs and skin: extraction, gloves, and the "
                "maker's data sheet."
            ),
        ),
    ),
    template="takeaway.html",
)
