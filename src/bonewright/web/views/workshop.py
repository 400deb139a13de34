"""The workshop: what the figure is built from, and the limits it keeps."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="workshop",
    title="Workshop",
    lead=(
        "From the verdict to the bench. Here stand the wire and tube in stock, the materials, the "
        "feathers of each tract and the limits the figure keeps. Empty tables mean that the "
        "program's own are used; the workshop pack is made from them and from the body."
    ),
    cautions=(
        Caution(
            title="Weight and height",
            text=(
                "A heavy figure tips and falls. The pack's stresses and tilting angles prepare the "
                "talk with a licensed structural engineer; they do not replace it. Local codes "
                "decide about base, anchors and floor."
            ),
        ),
        Caution(
            title="Dust, resin and feathers",
            text=(
                "Resin and silicone sensitise skin and lungs; dust of bone, plaster and hardened "
                "resin harms lungs. Old skins and feathers may hold arsenic and mercury. Feathers "
                "of wild birds are protected by law in many places."
            ),
        ),
    ),
)
