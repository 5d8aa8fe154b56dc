"""The shapes of the API's bodies as JSON Schema (draft 2020-12, which OpenAPI 3.1 uses)."""

from typing import Any

from qc.domain.facts.operations import (
    AGAIN_REASONS,
    BEYOND,
    ENVELOPE_FIELDS,
    LIGHTS,
    NOT_LOOKED_REASONS,
    PLANT_NAMED,
    PURPOSES,
    VERDICTS,
    WEATHERS,
)
from qc.domain.facts.people import ROLES
from qc.domain.numbers.number_form import MOST as LONGEST_NUMBER
from qc.domain.plant.plant import PARTS, SEVERITIES, SWINGS
from qc.domain.words.languages import LANGUAGES
from qc.reports.export.columns import TABLES, tables_for

Schema = dict[str, Any]

LARGEST = 2**53 - 1
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
UUID7: Schema = {"type": "string", "pattern": "^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"}
TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
NUMBER: Schema = {"type": "number"}


def ref(name: str) -> Schema:
    """Return the reference to a named schema of this document."""
    return {"$ref": f"#/components/schemas/{name}"}


def whole(least: int = 0, most: int = LARGEST) -> Schema:
    """Return the schema of a whole number."""
    return {"type": "integer", "minimum": least, "maximum": most}


def code(most: int = 40) -> Schema:
    """Return the schema of a code as the plant's tables and the phones use them."""
    return {"type": "string", "pattern": f"^[A-Za-z0-9._-]{{1,{most}}}$"}


def word(*allowed: str) -> Schema:
    """Return the schema of one of the given words."""
    return {"enum": list(allowed)}


def many(schema: Schema) -> Schema:
    """Return the schema of a list."""
    return {"type": "array", "items": schema}


def maybe(schema: Schema) -> Schema:
    """Return the schema of something that may be null."""
    return {"anyOf": [schema, {"type": "null"}]}


def record(optional: tuple[str, ...] = (), **fields: Schema) -> Schema:
    """Return the schema of an object with exactly these fields, all required but the optional ones."""
    required = [name for name in fields if name not in optional]
    return {"type": "object", "properties": fields, "required": required, "additionalProperties": False}


INSTANT = {**whole(), "description": "Milliseconds since 1970 UTC."}
POINT = {"type": "array", "items": {"type": "integer"}, "minItems": 2, "maxItems": 2}
SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
CIRCLES: Schema = {
    "type": "object",
    "propertyNames": SHA256,
    "additionalProperties": {"type": "array", "items": SHARE, "minItems": 4, "maxItems": 4},
    "description": (
        "By photo on which the flaw is circled: left, top, right and bottom of the box that the ellipse fills, as "
        "shares of the photo's width and height."
    ),
}
EPOCH = code(64)
PUBLIC_KEY: Schema = {
    "type": "string",
    "minLength": 1,
    "maxLength": 100,
    "description": "An uncompressed point of P-256 in base64url.",
}
SECRET: Schema = {"type": "string", "minLength": 1, "maxLength": 128}
DEVICE_SECRET: Schema = {"type": "string", "maxLength": 200, "description": "What proves the phone, '' for none."}
CERTIFICATE: Schema = {"type": "string", "pattern": "^[A-Za-z0-9_-]+[.][A-Za-z0-9_-]+$"}
CHAIN = record(size=whole(), head=SHA256)
PERSON = record(code=code(32), name=TEXT, role=word(*ROLES), also=many(word(*ROLES)), stations=many(code()))

ENVELOPE = record(
    optional=(PLANT_NAMED,),
    id=UUID7,
    device=code(32),
    install_epoch=code(),
    seq=whole(1),
    kind=code(),
    schema=whole(1, 1000),
    unit=maybe(code(LONGEST_NUMBER)),
    body={"type": "object"},
    author=code(32),
    deps={**many(UUID7), "maxItems": 20, "uniqueItems": True},
    seen_through=whole(),
    wall_ms=INSTANT,
    tz_min=whole(-840, 840),
    session=code(64),
    mono_ms=whole(),
    plant={**SHA256, "description": "The revision of the plant's tables that it was made under."},
)
_DESCRIBED = tuple(ENVELOPE["properties"])
assert (*ENVELOPE_FIELDS, PLANT_NAMED) == _DESCRIBED, "the description's envelope is not the one that is checked"

INSPECTION = record(
    id=UUID7,
    point=code(),
    purpose=word(*PURPOSES),
    presentation=whole(),
    inspector=code(32),
    light=word(*LIGHTS),
    weather=maybe(word(*WEATHERS)),
    begun_ms=INSTANT,
    ended_ms=maybe(INSTANT),
    looked=many(code(60)),
    not_looked=many(record(zone=code(60), reason=word(*NOT_LOOKED_REASONS))),
)
DEFECT = record(
    optional=("grade", "lot"),
    id=UUID7,
    inspection=maybe(UUID7),
    point=code(),
    zone=code(60),
    type=code(),
    severity=word(*SEVERITIES),
    grade=TEXT,
    lot=TEXT,
    note=TEXT,
    mark=maybe(POINT),
    found_ms=INSTANT,
    finder=code(32),
    state=word("open", "repaired", "closed", "withdrawn"),
    cycles=whole(),
    said=TEXT,
    suspected=maybe(code()),
    confirmed=maybe(code()),
    origin_state=word("none", "suspected", "confirmed", "disputed", "settled"),
    photos=many(SHA256),
    circles=CIRCLES,
    repaired_by=maybe(code(32)),
    changed_also_by=many(code(32)),
    number=whole(1),
)
TEST = record(test=code(), passed=FLAG, value=maybe(NUMBER), voided=FLAG, number=whole(1))
RESULT = record(
    id=UUID7,
    test=code(),
    inspection=maybe(UUID7),
    value=maybe(NUMBER),
    beyond=word("", *BEYOND),
    passed=FLAG,
    voided=FLAG,
    again=word("", *AGAIN_REASONS),
    taken_back=FLAG,
    untold=FLAG,
    tester=code(32),
    tested_ms=INSTANT,
    number=whole(1),
)
PASSING = record(id=UUID7, station=code(), by=code(32), passed_ms=INSTANT, withdrawn=FLAG)
UNIT = record(
    optional=("line",),
    chassis=code(LONGEST_NUMBER),
    shop_number=code(20),
    sequence=whole(1),
    model=code(),
    options=many(TEXT),
    line=TEXT,
    state=word("planned", "on_line", "at_end_points", "in_rework", "released", "cancelled"),
    alarm=TEXT,
    last_number=whole(1),
    unplanned=FLAG,
    place=maybe(record(place=TEXT, by=code(32), moved_ms=INSTANT)),
    passings=many(PASSING),
    inspections=many(INSPECTION),
    defects=many(DEFECT),
    tests=many(TEST),
    results=many(RESULT),
    blockers=many(record(code=code(), what=TEXT, ref=TEXT)),
    release=maybe(record(signed_by=code(32), released_ms=INSTANT, against=TEXT)),
    open_digest=SHA256,
)
NUMBER_PART = record(kind=word("text", "model", "digit", "any", "sequence", "check"), text=TEXT, length=whole())
PLANT = record(
    names={
        "type": "object",
        "description": "Words in further languages: by language tag, kind of thing, code and column.",
    },
    revision=SHA256,
    maker=TEXT,
    site=TEXT,
    demo=FLAG,
    time_zone=TEXT,
    stop_phone=TEXT,
    stop_who=TEXT,
    standing_line=TEXT,
    options=many(record(code=TEXT, name=TEXT)),
    lines=many(record(code=TEXT, name=TEXT, ended=FLAG)),
    severities=many(record(code=code(), name=TEXT, counts_as=word(*SEVERITIES))),
    numbers=record(
        letters=TEXT,
        ends=TEXT,
        find=whole(3),
        check=TEXT,
        chassis=many(NUMBER_PART),
        shop=many(NUMBER_PART),
    ),
    models=many(record(code=code(), name=TEXT, what=TEXT, length_mm=whole(1), digit=TEXT, lines=many(TEXT))),
    views=many(record(id=code(), name=TEXT, left=TEXT, right=TEXT)),
    zones=many(
        record(
            model=code(),
            view=code(),
            key=code(60),
            name=TEXT,
            kind=TEXT,
            layer=whole(),
            points=many(POINT),
            walk_order=whole(),
            caution=TEXT,
            holds=word("", "plate", "whole"),
            ended=FLAG,
            options=many(TEXT),
        )
    ),
    pictures=many(
        record(
            model=code(),
            view=code(),
            sha256=SHA256,
            width=whole(1),
            height=whole(1),
            corners={"type": "array", "items": {"type": "integer"}, "minItems": 4, "maxItems": 4},
        )
    ),
    outlines=many(record(model=code(), view=code(), part=word(*PARTS), points=many(POINT), swing=word("", *SWINGS))),
    types=many(
        record(
            code=code(),
            group=TEXT,
            group_name=TEXT,
            name=TEXT,
            severity=word(*SEVERITIES),
            grade=TEXT,
            stop_unit=FLAG,
            photo_required=FLAG,
            zone_kinds=many(TEXT),
            models=many(code()),
            origins=many(code()),
            caution=maybe(TEXT),
            words=many(TEXT),
            ended=FLAG,
        )
    ),
    stations=many(
        record(
            id=code(),
            name=TEXT,
            kind=TEXT,
            line=TEXT,
            can_detect=FLAG,
            final=FLAG,
            first_day=maybe(TEXT),
            end_day=maybe(TEXT),
        )
    ),
    tests=many(
        record(
            id=code(),
            name=TEXT,
            point=code(),
            kind=word("measure", "pass"),
            unit=TEXT,
            lower=maybe(NUMBER),
            upper=maybe(NUMBER),
            conditions=TEXT,
            reference=TEXT,
            basis=TEXT,
            models=many(code()),
            caution=TEXT,
            who=TEXT,
            type=TEXT,
            least=maybe(NUMBER),
            most=maybe(NUMBER),
            beyond=many(word(*BEYOND)),
            hazard=FLAG,
            ended=FLAG,
            options=many(TEXT),
        )
    ),
    cautions=many(
        record(
            code=code(),
            short=TEXT,
            more=TEXT,
            camera=word("free", "ask", "no"),
            before_photo=TEXT,
            move_away=FLAG,
            call=TEXT,
            phone=TEXT,
            shown=many(word("begin", "unit")),
        )
    ),
    origins={
        "type": "object",
        "additionalProperties": {"type": "object", "additionalProperties": many(code())},
        "description": "Point, then model, then the possible origins.",
    },
    lights=many(word(*LIGHTS)),
    weathers=many(word(*WEATHERS)),
    not_looked_reasons=many(word(*NOT_LOOKED_REASONS)),
    again_reasons=many(word(*AGAIN_REASONS)),
    purposes=many(word(*PURPOSES)),
    roles={
        "type": "object",
        "additionalProperties": many(word(*ROLES)),
        "description": "Kind of operation on a unit, then the roles that may author it.",
    },
)

_SORTS: dict[str, Schema] = {
    "text": {"type": ["string", "null"]},
    "number": {"type": ["number", "null"]},
    "day": {"type": ["string", "null"], "format": "date"},
    "instant": {"type": ["string", "null"], "format": "date-time"},
    "yes or no": {"type": ["boolean", "null"]},
    "list": {"type": "array", "items": TEXT},
}
ROWS: dict[str, Schema] = {  # a line of JSON of each table, under its name
    table: record((), **{one.name: {**_SORTS[one.sort], "description": one.words} for one in TABLES[table]})
    for table in tables_for(names=False)
}
PROBLEM = record(code={"type": "string", "pattern": "^[a-z][a-z0-9_]*$"}, message=TEXT, field=TEXT)
PLAN_REPORT: dict[str, Schema] = {
    "taken": {**FLAG, "description": "Whether the rows that are new or changed are in the record now."},
    "wrong_left_out": FLAG,
    "summary": TEXT,
    "notes": many(TEXT),
    "rows": many(record(row=whole(1), unit=TEXT, outcome=word("new", "changed", "same", "wrong"), words=TEXT)),
}

SCHEMAS: dict[str, Schema] = {
    "Description": {"type": "object", "required": ["openapi", "paths"]},
    "Refused": record(error=PROBLEM),
    "People": many(record(code=code(32), name=TEXT, role=word(*ROLES), also=many(word(*ROLES)))),
    "Enrol": record(
        letters={"type": "string", "minLength": 1, "maxLength": 40},
        device=maybe(code(32)),
        device_secret=DEVICE_SECRET,
    ),
    "Enrolled": record(device=code(32), device_secret=DEVICE_SECRET),
    "SignIn": record(
        ("device_secret",),
        person=code(32),
        pin=SECRET,
        device=maybe(code(32)),
        install_epoch=code(),
        public_key=PUBLIC_KEY,
        device_secret=DEVICE_SECRET,
    ),
    "SignedIn": record(
        token=TEXT,
        session=code(64),
        device=code(32),
        person=PERSON,
        ends_ms=INSTANT,
        certificate=CERTIFICATE,
        certified_until_ms=INSTANT,
        key_id={**code(), "description": "The server's key under which certificates count."},
        server_now=INSTANT,
        server_epoch=EPOCH,
        language={**TEXT, "description": "The tag of the language that the person has chosen, empty for none."},
        secret_given={
            **many(record(by=code(32), at_ms=INSTANT)),
            "description": "Who gave the person each PIN or passphrase of the last 30 days, latest first; empty where "
            "they chose the latest themselves.",
        },
    ),
    "Sign": record(pin=SECRET, operation=UUID7, public_key=PUBLIC_KEY),
    "Certified": record(certificate=CERTIFICATE, certified_until_ms=INSTANT),
    "Language": record(language=word(*LANGUAGES)),
    "Change": record(pin=SECRET, new=SECRET),
    "Changed": record(person=code(32)),
    "Run": record(
        operations={**whole(1, 100), "description": "How many of the push, in order."},
        certificate=maybe({**TEXT, "maxLength": 1000}),
        signature=maybe(
            {**TEXT, "maxLength": 100, "description": "ECDSA over SHA-256 as r and s, in base64url; see /push."}
        ),
    ),
    "Ping": record(("device", "install_epoch"), nonce=code(64), device=code(32), install_epoch=code(40)),
    "Pong": record(
        ("arrived",),
        nonce=code(64),
        server_now=INSTANT,
        server_epoch=EPOCH,
        protocol=many(whole(1)),
        arrived={**whole(), "description": "How many records of the installation that was named are here."},
    ),
    "Push": record(
        ("server_epoch", "chain", "held"),
        protocol={"const": 2},
        device=code(32),
        install_epoch=code(),
        sent_ms=INSTANT,
        runs=many(ref("Run")),
        server_epoch=maybe(EPOCH),
        chain=maybe(CHAIN),
        held=maybe(
            {
                "type": "array",
                "maxItems": 1000,
                "items": {"type": "array", "items": whole(1), "minItems": 2, "maxItems": 2},
                "description": "First and last of the sequence numbers that the phone keeps back for now, rising.",
            }
        ),
        operations={**many(ref("Operation")), "maxItems": 100},
    ),
    "Operation": ENVELOPE,
    "Verdict": record(
        id=TEXT,
        verdict=word(*VERDICTS),
        code=TEXT,
        reason=TEXT,
        expected=maybe(whole(1)),
        number=maybe(whole(1)),
    ),
    "Verdicts": record(
        server_epoch=EPOCH, server_now=INSTANT, chain=CHAIN, history_differs=FLAG, verdicts=many(ref("Verdict"))
    ),
    "Unit": UNIT,
    "Pulled": record(
        server_epoch=EPOCH, server_now=INSTANT, person=PERSON, units=many(ref("Unit")), through=whole(), more=FLAG
    ),
    "Plant": PLANT,
    "Tables": many(record(table=TEXT, columns=many(record(name=TEXT, holds=word(*_SORTS), words=TEXT)))),
    **ROWS,
    "PlanReport": record((), **PLAN_REPORT),
    "PlanRefused": record((), error=PROBLEM, **PLAN_REPORT),
}
