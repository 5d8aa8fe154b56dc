"""Which machine asks: the token behind a request's bearer header (RFC 6750), looked up at every request."""

from flask import request

from qc.store.people.machines import MachineAtWork
from qc.web.house import the_house
from qc.web.json_door import refuse


def machine_for(scope: str) -> MachineAtWork:
    """Return the machine of the request, for a scope.

    Raises Refused 401 ``sign_in_needed``, WrongToken, TooManyTries, NotItsScope.
    """
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not token.strip():
        words = "This address is a machine's: send its token as Authorization: Bearer TOKEN; qc token makes one."
        refuse("sign_in_needed", words, "Authorization", 401)
    return the_house().machines.at_work(token.strip(), scope, request.remote_addr or "")
