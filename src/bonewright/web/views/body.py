"""The body in the round: maquettes, scans, and the body grown from the skeleton."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="body",
    title="Body",
    lead=(
        "Flesh on the average skeleton, weighed in every way there is: a maquette in water, a "
        "scan, and a body grown from the bones through hoops that you can edit, lean, average "
        "and fat. The parts that leave no bone come from living relatives."
    ),
    template="body.html",
    cautions=(
        Caution(
            title="Modelling and casting",
            text=(
                "Resin and silicone sensitise skin and lungs: gloves, extraction, and the "
                "maker's data sheet. A heavy figure tips: have a licensed structural engineer "
                "check armature, base and floor under the local code."
            ),
        ),
    ),
)
