"""The pages that the server renders, for managers, leads and everybody who looks a unit up."""

from flask import Blueprint

from qc.web.house import House
from qc.web.pages import (
    backlog,
    export,
    handbook,
    home,
    inspectors,
    labels,
    legend,
    own_language,
    own_mail,
    own_secret,
    paper,
    passed,
    people,
    plan,
    plant_tables,
    review,
    set_aside,
    sign_ins,
    signals,
    station,
    template_filters,
    unit,
    unit_range,
    units,
    zone_drawing,
)


def blueprint(house: House) -> Blueprint:
    """Return the blueprint of the pages; it also gives every template of the application its ways of writing."""
    pages = Blueprint("pages", __name__)
    template_filters.register(pages, house)
    pages.add_url_rule("/", "home", home.show, methods=["GET"])
    pages.add_url_rule("/review", "review", review.show, methods=["GET"])
    pages.add_url_rule("/review/figures", "review_figures", review.figures, methods=["GET"])
    pages.add_url_rule("/review/by-model", "review_by_model", review.by_model, methods=["GET"])
    pages.add_url_rule("/review/by-point", "review_by_point", review.by_point, methods=["GET"])
    pages.add_url_rule("/backlog", "backlog", backlog.show, methods=["GET"])
    pages.add_url_rule("/stations", "stations", station.choose, methods=["GET"])
    pages.add_url_rule("/stations/<station>", "station", station.show, methods=["GET"])
    pages.add_url_rule("/stations/<station>/origin", "answer", station.answer, methods=["POST"])
    pages.add_url_rule("/stations/<station>/changes", "note_change", station.note_change, methods=["POST"])
    pages.add_url_rule("/units", "units", units.show, methods=["GET"])
    pages.add_url_rule("/units/<chassis>", "unit", unit.show, methods=["GET"])
    pages.add_url_rule("/units/<chassis>/settle", "settle", unit.settle, methods=["POST"])
    pages.add_url_rule("/units/<chassis>/suspect", "suspect", unit.suspect, methods=["POST"])
    pages.add_url_rule("/units/<chassis>/cancel", "cancel_unit", unit.cancel, methods=["POST"])
    pages.add_url_rule("/units/<chassis>/take-up", "take_unit_up", unit.take_up, methods=["POST"])
    pages.add_url_rule("/units/<chassis>/found", "found_after_dispatch", unit.found, methods=["POST"])
    pages.add_url_rule("/inspectors", "inspectors", inspectors.show, methods=["GET"])
    pages.add_url_rule("/inspectors/me", "own_looks", inspectors.show_own, methods=["GET"])
    pages.add_url_rule("/signals", "signals", signals.show, methods=["GET"])
    pages.add_url_rule("/signals/mute", "mute_signal", signals.mute, methods=["POST"])
    pages.add_url_rule("/signals/unmute", "unmute_signal", signals.unmute, methods=["POST"])
    pages.add_url_rule("/set-aside", "set_aside", set_aside.show, methods=["GET"])
    pages.add_url_rule("/set-aside/take", "take_in", set_aside.take, methods=["POST"])
    pages.add_url_rule("/set-aside/leave", "leave_aside", set_aside.leave, methods=["POST"])
    pages.add_url_rule("/plant-tables", "plant_tables", plant_tables.show, methods=["GET"])
    pages.add_url_rule("/plant-tables/file", "plant_table", plant_tables.file, methods=["GET"])
    pages.add_url_rule("/plant-tables/look", "look_at_tables", plant_tables.look, methods=["POST"])
    pages.add_url_rule("/plant-tables/take", "take_tables", plant_tables.take, methods=["POST"])
    pages.add_url_rule("/plant-tables/picture", "hand_in_picture", plant_tables.picture, methods=["POST"])
    pages.add_url_rule("/plant-tables/zones", "zone_drawing", zone_drawing.show, methods=["GET"])
    pages.add_url_rule("/plant-tables/zones", "look_at_drawing", zone_drawing.look, methods=["POST"])
    pages.add_url_rule("/people", "people", people.show, methods=["GET"])
    pages.add_url_rule("/people/add", "add_person", people.add, methods=["POST"])
    pages.add_url_rule("/people/role", "assign_person", people.assign, methods=["POST"])
    pages.add_url_rule("/people/secret", "give_secret", people.give_secret, methods=["POST"])
    pages.add_url_rule("/people/end", "end_person", people.end, methods=["POST"])
    pages.add_url_rule("/people/return", "take_person_back", people.take_back, methods=["POST"])
    pages.add_url_rule("/people/enrol", "enrol_phone", people.enrol, methods=["POST"])
    pages.add_url_rule("/people/revoke", "revoke_phone", people.revoke, methods=["POST"])
    pages.add_url_rule("/people/restore", "restore_phone", people.restore, methods=["POST"])
    pages.add_url_rule("/people/token", "make_token", people.make_token, methods=["POST"])
    pages.add_url_rule("/people/token-end", "end_token", people.end_token, methods=["POST"])
    pages.add_url_rule("/own-secret", "own_secret", own_secret.show, methods=["GET"])
    pages.add_url_rule("/own-secret", "change_own_secret", own_secret.change, methods=["POST"])
    pages.add_url_rule("/own-language", "choose_language", own_language.choose, methods=["POST"])
    pages.add_url_rule("/own-mail", "own_mail", own_mail.show, methods=["GET"])
    pages.add_url_rule("/own-mail", "ask_for_mail", own_mail.ask, methods=["POST"])
    pages.add_url_rule("/sign-ins", "sign_ins", sign_ins.show, methods=["GET"])
    pages.add_url_rule("/plan", "plan", plan.show, methods=["GET"])
    pages.add_url_rule("/passed", "passed", passed.show, methods=["GET"])
    pages.add_url_rule("/passed/look", "look_passed", passed.look, methods=["POST"])
    pages.add_url_rule("/passed/take", "take_passed", passed.take, methods=["POST"])
    pages.add_url_rule("/plan/look", "look_plan", plan.look, methods=["POST"])
    pages.add_url_rule("/plan/range", "unit_range", unit_range.show, methods=["GET"])
    pages.add_url_rule("/plan/range", "look_range", unit_range.look, methods=["POST"])
    pages.add_url_rule("/plan/range/take", "take_range", unit_range.take, methods=["POST"])
    pages.add_url_rule("/plan/take", "take_plan", plan.take, methods=["POST"])
    pages.add_url_rule("/help", "handbook", handbook.index, methods=["GET"])
    pages.add_url_rule("/help/<page>", "handbook_page", handbook.show, methods=["GET"])
    for page in handbook.OPEN:
        told = {"page": page}
        pages.add_url_rule(f"/help/{page}", f"handbook_{page}", handbook.show_open, methods=["GET"], defaults=told)
    pages.add_url_rule("/legend", "legend", legend.show, methods=["GET"])
    pages.add_url_rule("/export", "export", export.show, methods=["GET"])
    pages.add_url_rule("/export/file", "export_file", export.take, methods=["GET"])
    pages.add_url_rule("/labels", "labels", labels.show, methods=["GET"])
    pages.add_url_rule("/paper", "paper", paper.show, methods=["GET"])
    return pages
