"""Where the Chromium is that tests drive, how it is started, and how long they wait for what it shows."""

import os
import shutil

SEEN_MS = 30_000  # what is expected on a screen must be there within this; browsers share a slow machine's cores
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def found_chromium() -> str | None:
    """Return the Chromium to drive: named by DAYBAY_CHROMIUM, else found on the path."""
    return os.environ.get("DAYBAY_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
