"""The body in the round: maquettes and the mass they displace."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="body",
    title="Body",
    lead=(
        "A maquette built on the average skeleton, its displaced volume scaled up to life size "
        "and turned into mass."
    ),
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
