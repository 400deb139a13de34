"""Whatever a client sends to any address of the page, the program answers without a fault."""

import warnings
from typing import TYPE_CHECKING

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from bonewright.web.app import create_app
from bonewright.web.messages import FailureMessage

if TYPE_CHECKING:
    from tests.web.conftest import Served

# The stream that never ends; what opens or makes other studies on this machine; long work.
LEFT_OUT = ("/api/events", "/api/start", "/api/errands", "/api/work")
EXAMPLES_AN_ADDRESS = 6


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_no_address_answers_with_a_fault_of_the_program(
    served: "Served", insider: httpx.Client
) -> None:
    # The description is never served: it is made here from the app.
    described = create_app(None, "unused").openapi()
    described["paths"] = {p: one for p, one in described["paths"].items() if p not in LEFT_OUT}
    faults: list[str] = []
    asked: set[str] = set()
    for result in schemathesis.openapi.from_dict(described).get_all_operations():
        operation = result.ok()

        @settings(
            max_examples=EXAMPLES_AN_ADDRESS,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def ask(case: schemathesis.Case) -> None:
            with warnings.catch_warnings(action="ignore"):
                answer = case.call(
                    base_url=served.address,
                    headers={"x-bonewright-page": "1", "origin": served.address},
                    cookies=dict(insider.cookies),
                    timeout=60,
                    allow_redirects=False,
                )
            asked.add(case.path)
            if answer.status_code >= 500:
                faults.append(f"{case.method} {case.formatted_path} {case.body!r:.300}")
            elif answer.status_code >= 400 and answer.status_code != 409:
                assert set(answer.json()) == set(FailureMessage.model_fields)

        ask()
    assert faults == []
    assert asked == set(described["paths"])
