"""Who asks: the sign-in behind a request's bearer token (RFC 6750), looked up at every request. No cookie is read."""

from flask import request

from qc.store.people.sign_ins import SignIn
from qc.web.house import the_house
from qc.web.json_door import refuse


def signed_in(revoked_too: bool = False) -> SignIn:
    """Return the sign-in of the request. Raises Refused: 401 ``sign_in_needed``, 403 ``device_revoked``.

    revoked_too lets a revoked phone in: for the push alone, whose journal sets such work aside instead of losing it.
    """
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    found = the_house().sign_ins.by_token(token.strip(), "phone") if scheme.lower() == "bearer" and token else None
    if found is None:
        refuse(
            "sign_in_needed", "The sign-in has ended. Sign in again; what is recorded stays on the phone.", status=401
        )
    if found.revoked and not revoked_too:
        refuse("device_revoked", f"{found.device} has been taken out of use; ask the administrator.", status=403)
    return found
