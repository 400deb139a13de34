"""What leaves the workroom: report, label, archive, and runs laid side by side."""

from bonewright.web.views.step_view import StepView

VIEW = StepView(
    key="takeaway",
    title="Take away",
    lead=(
        "What leaves the workroom: the report to defend, words for the label, a file to deposit, "
        "and two runs laid side by side. Each is made beside your work; you can go on."
    ),
    template="takeaway.html",
)
