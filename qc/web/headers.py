"""The headers on every answer: what a browser may load and run, and what it may keep."""

from flask import Response, request
from werkzeug.exceptions import SecurityError

from qc.web.own_names import LOOPBACK_NAMES

_COMMON = (
    "script-src 'self'; {styles}; img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
# The charts' script sets style attributes and adds one empty style element, whose hash this is; no eval is needed.
_CHART_STYLES = "style-src 'self' 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='; style-src-attr 'unsafe-inline'"
PAGE_POLICY = "default-src 'none'; " + _COMMON.format(styles=_CHART_STYLES)
APP_POLICY = "default-src 'none'; " + _COMMON.format(styles="style-src 'self'")
DATA_POLICY = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
PHOTO_POLICY = f"{DATA_POLICY}; sandbox"

_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
}
_ONE_YEAR = "max-age=31536000"


def add_headers(response: Response) -> Response:
    """Set what every answer carries; a policy or a cache rule that the view set itself is kept."""
    for name, value in _ALWAYS.items():
        response.headers[name] = value
    response.headers.setdefault("Content-Security-Policy", _policy(request.path))
    response.headers.setdefault("Cache-Control", "no-store")
    # Not on loopback: the browser would then refuse plain HTTP to every other program of this machine.
    if request.is_secure and _is_asked_by_name():
        response.headers["Strict-Transport-Security"] = _ONE_YEAR
    return response


def _is_asked_by_name() -> bool:
    """Return whether the host that is asked for is one of the server's names on the network."""
    try:
        host = request.host
    except SecurityError:  # another name, which is being refused
        return False
    return host.rsplit(":", 1)[0] not in LOOPBACK_NAMES and host not in LOOPBACK_NAMES


def _policy(path: str) -> str:
    if path.startswith("/app"):
        return APP_POLICY
    return DATA_POLICY if path.startswith(("/api/", "/a/")) else PAGE_POLICY
