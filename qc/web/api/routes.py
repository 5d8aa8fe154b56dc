"""The routes of /api/v1: what phones ask, what machines bring and fetch, and their description."""

from flask import Blueprint

from qc.web.api import (
    description,
    enrol,
    language,
    people,
    photos,
    ping,
    plan,
    plant,
    pull,
    push,
    secret,
    sign_in,
    signature,
    tables,
)
from qc.web.house import House

PREFIX = "/api/v1"


def blueprint(house: House) -> Blueprint:
    """Return the blueprint of every API route."""
    api = Blueprint("api", __name__, url_prefix=PREFIX)
    api.add_url_rule("/openapi.json", "description", description.answer, methods=["GET"])
    api.add_url_rule("/people", "people", people.answer, methods=["GET"])
    api.add_url_rule("/enrol", "enrol", enrol.answer, methods=["POST"])
    api.add_url_rule("/sign-in", "sign_in", sign_in.answer, methods=["POST"])
    api.add_url_rule("/signature", "signature", signature.answer, methods=["POST"])
    api.add_url_rule("/secret", "secret", secret.answer, methods=["POST"])
    api.add_url_rule("/language", "language", language.answer, methods=["POST"])
    api.add_url_rule("/ping", "ping", ping.answer, methods=["POST"])
    api.add_url_rule("/push", "push", push.answer, methods=["POST"])
    api.add_url_rule("/pull", "pull", pull.answer, methods=["GET"])
    api.add_url_rule("/plant", "plant", plant.answer_from(lambda: house.plant), methods=["GET"])
    api.add_url_rule("/plan", "plan", plan.answer, methods=["POST"])
    api.add_url_rule("/tables", "tables", tables.listed, methods=["GET"])
    api.add_url_rule("/tables/<table>", "table", tables.answer, methods=["GET"])
    api.add_url_rule("/photos/<sha256>", "photo", photos.answer, methods=["GET", "HEAD"])
    api.add_url_rule("/photos/<sha256>", "photo_piece", photos.take_piece, methods=["PATCH"])
    return api
