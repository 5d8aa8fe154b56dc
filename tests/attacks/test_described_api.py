"""What the API's description allows and what it forbids, sent by a program of others (schemathesis) as four people
and a machine.

It makes bodies, parameters and headers from the description, right and wrong ones, and holds each answer to it: no
fault of the server's, a described status, its media type, its shape.
"""

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks

PEOPLE = ("", "inspector", "station_lead", "quality_manager", "machine")  # "": a stranger
SHORT, LONG = 4, 400  # examples of each operation, person and mode
HELD_TO = (
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_schema_conformance,
    checks.response_headers_conformance,
)


@schemathesis.serializer("application/offset+octet-stream")
def as_bytes(_, value):
    """Send a piece of a photo as it was made."""
    return value if isinstance(value, bytes) else str(value).encode()


@schemathesis.serializer("text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
def as_sheet(_, value):
    """Send a table as it was made."""
    return value if isinstance(value, bytes) else str(value).encode()


def operations_of(app):
    schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", app)
    return {f"{one.method.upper()} {one.path}": one for one in (each.ok() for each in schema.get_all_operations())}


def hold_to_description(attacked, name, examples):
    """Send so many cases of one operation as each person, in both modes."""
    operation = operations_of(attacked.app)[name]

    def held(case, person):
        headers = {"Accept-Encoding": "identity", **(attacked.bearers[person] if person else {})}
        case.call_and_validate(headers=headers, checks=list(HELD_TO), excluded_checks=[])

    for mode in GenerationMode:
        if mode is GenerationMode.NEGATIVE and name in NOTHING_TO_GET_WRONG:
            continue
        cases = operation.as_strategy(generation_mode=mode)
        run = given(case=cases, person=st.sampled_from(PEOPLE))(held)
        quiet = settings(
            max_examples=examples * len(PEOPLE),
            suppress_health_check=list(HealthCheck),
            phases=(Phase.generate,),
            database=None,
        )
        seed(13)(quiet(run))()


NOTHING_TO_GET_WRONG = {"GET /people", "GET /tables"}  # neither parameters nor a body
NAMES = (  # of the description itself schemathesis knows that it is one
    "GET /people",
    "POST /enrol",
    "POST /sign-in",
    "POST /signature",
    "POST /secret",
    "POST /ping",
    "POST /language",
    "POST /push",
    "GET /pull",
    "GET /plant",
    "GET /photos/{sha256}",
    "HEAD /photos/{sha256}",
    "PATCH /photos/{sha256}",
    "POST /plan",
    "GET /tables",
    "GET /tables/{table}",
)


def test_every_described_operation_is_sent(attacked):
    assert set(operations_of(attacked.app)) == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_the_api_answers_as_it_is_described(attacked, name):
    hold_to_description(attacked, name, SHORT)


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_the_api_answers_as_it_is_described_at_length(attacked, name):
    hold_to_description(attacked, name, LONG)
