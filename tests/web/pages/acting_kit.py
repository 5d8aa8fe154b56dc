"""Sends a page's own form, as a browser does: with the token that the page gave out."""


def send(page, address: str, **form: str):
    """Post a form to an address with a fresh token of this sign-in."""
    return page.post(address, csrf_token=page.form_token("/units"), **form)
