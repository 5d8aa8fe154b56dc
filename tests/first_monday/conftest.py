"""What the walk shares with the browser tests: a certificate that Chromium trusts, and phones."""

from tests.browser.conftest import certificate, new_phone, trusting_home

__all__ = ["certificate", "new_phone", "trusting_home"]
