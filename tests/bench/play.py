"""What playing the demo costs, against another checkout of this program, or alone. A ratio, no test.

python -m tests.bench.play [--weeks 4] [--rounds 5] [--against CHECKOUT]...

Each round plays the same weeks with each in turn, in a process and a folder of its own, so that a busy machine is busy
for all; told are seconds of the processor, waiting for the disk left out, the middle one of the rounds.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parents[2]
PLAY = "import sys; sys.path.insert(0, {source!r}); from qc.cli import main; main({arguments!r})"


def seconds(source: Path, weeks: int) -> float:
    """Return the seconds of the processor that one play takes, its imports and the hashing of its PINs included."""
    with tempfile.TemporaryDirectory() as room:
        arguments = ["demo", "--folder", f"{room}/demo", "--weeks", str(weeks), "--no-serve"]
        told = PLAY.format(source=str(source), arguments=arguments)
        playing = subprocess.Popen([sys.executable, "-c", told], cwd=room, stdout=subprocess.DEVNULL)
        _, status, used = os.wait4(playing.pid, 0)
        playing.returncode = os.waitstatus_to_exitcode(status)
    if playing.returncode:
        raise SystemExit(f"the demo of {source} could not be played")
    return used.ru_utime + used.ru_stime


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--weeks", type=int, default=4)
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--against", type=Path, action="append", default=[])
    given = asked.parse_args()
    sources = [HERE, *(one.resolve() for one in given.against)]
    took = [[seconds(source, given.weeks) for source in sources] for _ in range(given.rounds)]
    middle = [statistics.median(one) for one in zip(*took, strict=True)]
    print(f"{given.weeks} weeks, {given.rounds} rounds: {middle[0]:.2f} s of the processor")
    for at, source in enumerate(sources[1:], start=1):
        ratios = [one[0] / one[at] for one in took]
        print(f"  against {middle[at]:.2f} s of {source}: {statistics.median(ratios):.2f} of it")


if __name__ == "__main__":
    main()
