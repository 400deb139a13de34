"""Cross-sections of leg bones and what they could bear."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="sections",
    title="Sections",
    lead=(
        "Cross-sections of leg bones, by callipers, outline, picture or scan: area, second "
        "moments, section moduli and torsion constant, which the step on movement needs."
    ),
    template="sections.html",
    cautions=(
        Caution(
            title="Cutting and scanning",
            text=(
                "Bone dust harms the lungs, and old bones may hold preservatives with arsenic: "
                "square off breaks with extraction, mask and gloves, and only where the "
                "collection's conservator agrees. A scan spares the bone."
            ),
        ),
    ),
)
