"""The app's speed on an emulated phone: python tests/bench/app.py (see tests/browser/app_speed.py)."""

import sys
from pathlib import Path

import pytest

if __name__ == "__main__":
    sys.exit(pytest.main(["-q", "-s", str(Path(__file__).parent.parent / "browser" / "app_speed.py")]))
