"""``qc --help`` against a bare ``import click``: what a command costs before it does anything. A ratio, no test.

python tests/bench/startup.py [rounds]
"""

import statistics
import subprocess
import sys
import time

HELP = [sys.executable, "-c", "from qc.cli import main; main(['--help'])"]
CLICK = [sys.executable, "-c", "import click"]


def seconds(command: list[str]) -> float:
    begun = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - begun


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    pairs = [(seconds(CLICK), seconds(HELP)) for _ in range(rounds)]  # in turn, so that a busy machine is busy for both
    click, help_ = (statistics.median(one) for one in zip(*pairs, strict=True))
    print(f"import click {click * 1000:.0f} ms, qc --help {help_ * 1000:.0f} ms, ratio {help_ / click:.2f}")


if __name__ == "__main__":
    main()
