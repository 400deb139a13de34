"""The views of the page, in the order of the job.

A step brings its view as a module of this package with one :class:`StepView` named
``VIEW``; a step that needs more than tables, findings and figures names a template of its
own. Adding a view is adding a module and its place in :data:`VIEWS`. What is taken away at the
end is no step, and stands beside them.
"""

from bonewright.web.views import (
    body,
    judgement,
    movement,
    relatives,
    sections,
    skeleton,
    study,
    takeaway,
    testimony,
    workshop,
)
from bonewright.web.views.step_view import Caution, StepView

__all__ = ["VIEWS", "VIEW_BY_KEY", "Caution", "StepView"]

VIEWS: tuple[StepView, ...] = (
    study.VIEW,
    skeleton.VIEW,
    relatives.VIEW,
    sections.VIEW,
    body.VIEW,
    movement.VIEW,
    testimony.VIEW,
    judgement.VIEW,
)

VIEW_BY_KEY: dict[str, StepView] = {
    view.key: view for view in (*VIEWS, workshop.VIEW, takeaway.VIEW)
}
