"""Pictures, accounts and the earlier mount, weighed as witnesses."""

from bonewright.web.views.step_view import Caution, StepView

VIEW = StepView(
    key="testimony",
    title="Testimony",
    lead=(
        "Pictures and accounts in order of date, copies told apart from independent witnesses, "
        "and the earlier mount measured against the average skeleton."
    ),
    template="testimony.html",
    cautions=(
        Caution(
            title="Old mounts",
            text=(
                "Old taxidermy may hold arsenic and mercury: do not touch a mount without "
                "gloves, never brush or blow it, and ask a conservator to test it first."
            ),
        ),
    ),
)
