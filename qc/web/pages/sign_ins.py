"""Wrong tries: each person sees those under their own code, the administrator everybody's and those under no one's."""

from flask import render_template

from qc.web.house import the_house
from qc.web.page_session import current_person, require_role


@require_role()
def show() -> str:
    """Return what is kept of wrong tries, latest first."""
    house, person = the_house(), current_person()
    assert person is not None  # require_role has sent strangers away
    everybody = person.has("administrator")
    entries = house.sign_ins.wrong_tries(None if everybody else person.code)
    return render_template("sign_ins/sign_ins.html", entries=entries, everybody=everybody, by_clock=house.by_clock)
