"""Importing the statistics loads no array library: a page or a command pays for one only when it computes."""

import subprocess
import sys
from pathlib import Path

STATS = Path(__file__).parents[2] / "qc" / "stats"
LOADER = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
    heavy = [heavy for heavy in ("numpy", "scipy", "statsmodels", "pandas") if heavy in sys.modules]
    if heavy:
        sys.exit(f"{name} loads {heavy}")
"""


def test_no_module_of_statistics_loads_an_array_library():
    names = [
        ".".join(("qc", "stats", *path.relative_to(STATS).with_suffix("").parts))
        for path in sorted(STATS.rglob("[!_]*.py"))
    ]
    run = subprocess.run([sys.executable, "-c", LOADER, *names], capture_output=True, text=True, check=False)

    assert len(names) > 20
    assert (run.returncode, run.stderr) == (0, "")
