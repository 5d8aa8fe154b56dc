"""The parts that this program is made of: what is installed, under which licence, and the lock of a server's install.

A lock names one version of each part with the SHA-256 of every file of it that may be installed, so that what is
installed on a server is what was tested and nothing else. The bill of materials is CycloneDX 1.5 (ECMA-424; the
names of its fields from memory, checked against the schema in the tests).
"""

import json
import re
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

NAME = "daybay"
LOCK = Path(__file__).with_name("server.lock")
# What a plant's server may be: CPython versions and platforms whose files the lock names.
PYTHONS = ("3.11", "3.12", "3.13")
PLATFORMS = ("manylinux_2_28_x86_64", "manylinux_2_28_aarch64", "win_amd64")
_PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s\\;]+)((?:\s*\\\n\s+--hash=sha256:[0-9a-f]{64})+)", re.M)
_HASH = re.compile(r"sha256:([0-9a-f]{64})")
_HEAD = """\
# The parts of a server's install: one version each, with the SHA-256 of its files for CPython {pythons}
# on {platforms}.
# Made by `qc parts lock`, checked by `qc parts check`. To install exactly these, and then the program itself:
#   pip install --require-hashes --only-binary=:all: -r qc/server.lock && pip install --no-deps .
"""


class CannotLock(Exception):
    """The lock could not be made; nothing was changed."""


@dataclass(frozen=True, slots=True)
class Part:
    """An installed part. needs: the names of the parts that it needs here, in order."""

    name: str
    version: str
    licence: str
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pin:
    """A line of the lock: one version, and the SHA-256 (hex) of each file of it that may be installed."""

    version: str
    hashes: tuple[str, ...]


def installed_parts() -> list[Part]:
    """Return every part that the installed program needs, in order of names. What is missing is left out."""
    found: dict[str, Part] = {}
    waiting = _needs(distribution(NAME))
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            part = distribution(name)
        except PackageNotFoundError:
            continue
        needs = _needs(part)
        found[name] = Part(name, part.version, licence_of(part), tuple(sorted(needs)))
        waiting += needs
    return [found[name] for name in sorted(found)]


def _needs(part: Distribution) -> list[str]:
    asked = [Requirement(text) for text in part.requires or ()]
    return [canonicalize_name(one.name) for one in asked if one.marker is None or one.marker.evaluate({"extra": ""})]


def licence_of(part: Distribution) -> str:
    """Return the licence that a part names: its SPDX expression, else its classifiers, else the first line of text."""
    told = part.metadata
    if "License-Expression" in told:
        return str(told["License-Expression"])
    named = [line.rsplit(" :: ", 1)[-1] for line in told.get_all("Classifier") or () if line.startswith("License :: ")]
    if named:
        return ", ".join(sorted(set(named)))
    text = str(told["License"]).strip() if "License" in told else ""
    return text.splitlines()[0][:80] if text else "not named"


def read_lock(path: Path = LOCK) -> dict[str, Pin]:
    """Return what a lock pins, by name. Raises FileNotFoundError."""
    text = path.read_text(encoding="utf-8")
    return {
        canonicalize_name(name): Pin(version, tuple(_HASH.findall(hashes)))
        for name, version, hashes in _PIN.findall(text)
    }


def lock_faults(lock: dict[str, Pin], parts: Iterable[Part]) -> list[str]:
    """Return what is wrong with a lock: a need out of its bounds or not pinned, a pin without a file or a need."""
    faults = []
    for text in distribution(NAME).requires or ():
        need = Requirement(text)
        pin = lock.get(canonicalize_name(need.name))
        if need.marker is not None and not need.marker.evaluate({"extra": ""}):
            continue
        if pin is None:
            faults.append(f"{need.name} is needed and not pinned")
        elif not need.specifier.contains(pin.version):
            faults.append(f"{need.name} is pinned to {pin.version}, and {need.specifier} is asked for")
    names = {part.name for part in parts}
    faults += [f"{name} is needed by another part and not pinned" for name in sorted(names - lock.keys())]
    faults += [f"{name} has no hash" for name, pin in lock.items() if not pin.hashes]
    return faults


def differences(lock: dict[str, Pin], parts: Iterable[Part]) -> list[str]:
    """Return in words where what is installed here is not what the lock pins."""
    return [
        f"{part.name} {part.version} is installed, {lock[part.name].version} is pinned"
        for part in parts
        if part.name in lock and lock[part.name].version != part.version
    ]


def bill(parts: Iterable[Part], lock: dict[str, Pin], now: datetime | None = None) -> dict[str, Any]:
    """Return the bill of materials in CycloneDX 1.5; hashes stand where the installed version is the pinned one."""
    own = distribution(NAME)
    held = list(parts)
    direct = sorted(name for name in _needs(own) if name in {part.name for part in held})
    here = {"type": "application", "bom-ref": NAME, "name": NAME, "version": own.version}
    return {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "serialNumber": f"urn:uuid:{uuid.uuid4()}",
        "version": 1,
        "metadata": {"timestamp": (now or datetime.now(UTC)).isoformat(timespec="seconds"), "component": here},
        "components": [_component(part) for part in held],
        "dependencies": [
            {"ref": NAME, "dependsOn": direct},
            *({"ref": part.name, "dependsOn": [name for name in part.needs if name in lock]} for part in held),
        ],
    }


def _component(part: Part) -> dict[str, Any]:
    is_expression = re.fullmatch(r"[A-Za-z0-9.+() -]+", part.licence) and re.search(
        r"-\d|^MIT$| AND | OR ", part.licence
    )
    named = {"expression": part.licence} if is_expression else {"license": {"name": part.licence}}
    purl = f"pkg:pypi/{part.name}@{part.version}"
    told = {"type": "library", "bom-ref": part.name, "name": part.name, "version": part.version, "purl": purl}
    return {**told, "licenses": [named]}


def make_lock(project: Path, path: Path = LOCK) -> dict[str, Pin]:
    """Resolve what the project in a folder needs, for each Python and platform, and write the lock.

    The installer asks the registry that it is set to. The first answer's versions are asked for in all others, so that
    every server has the same. Raises CannotLock.
    """
    asked = _project_needs(project)
    pins: dict[str, dict[str, set[str]]] = {}
    chosen: dict[str, str] = {}
    for python in PYTHONS:
        for platform in PLATFORMS:
            for name, version, digest in _resolved(asked, chosen, python, platform):
                chosen.setdefault(name, version)
                pins.setdefault(name, {}).setdefault(version, set()).add(digest)
    several = {name: sorted(versions) for name, versions in pins.items() if len(versions) > 1}
    if several:
        raise CannotLock(f"no one version suits all: {several}; narrow its bounds in pyproject.toml")
    made = {name: Pin(chosen[name], tuple(sorted(pins[name][chosen[name]]))) for name in sorted(pins)}
    lines = [_HEAD.format(pythons=", ".join(PYTHONS), platforms=", ".join(PLATFORMS))]
    for name, pin in made.items():
        lines.append(
            " \\\n".join([f"{name}=={pin.version}", *(f"    --hash=sha256:{one}" for one in pin.hashes)]) + "\n"
        )
    path.write_text("".join(lines), encoding="utf-8")
    return made


def _project_needs(project: Path) -> list[str]:
    import tomllib

    return list(tomllib.loads((project / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"])


def _resolved(asked: list[str], chosen: dict[str, str], python: str, platform: str) -> list[tuple[str, str, str]]:
    """Return name, version and SHA-256 of each file that the installer would take for a Python on a platform."""
    with tempfile.TemporaryDirectory() as room:
        held = Path(room) / "held.txt"
        held.write_text("".join(f"{name}=={version}\n" for name, version in chosen.items()), encoding="utf-8")
        report = Path(room) / "report.json"
        command = [sys.executable, "-m", "pip", "install", "--quiet", "--dry-run", "--ignore-installed"]
        command += ["--only-binary=:all:", "--python-version", python, "--implementation", "cp"]
        command += ["--platform", platform, *_older(platform), "--target", room, "--constraint", str(held)]
        run = subprocess.run([*command, "--report", str(report), *asked], capture_output=True, text=True)
        if run.returncode:
            raise CannotLock(f"nothing suits Python {python} on {platform}: {run.stderr.strip()[-600:]}")
        taken = json.loads(report.read_text(encoding="utf-8"))["install"]
    return [
        (canonicalize_name(one["metadata"]["name"]), one["metadata"]["version"], _digest(one["download_info"]))
        for one in taken
    ]


def _older(platform: str) -> list[str]:
    """Return the options for the platforms whose files run on a later one of the same kind too."""
    if not platform.startswith("manylinux_2_28_"):
        return []
    machine = platform.removeprefix("manylinux_2_28_")
    older = ["manylinux2014", *(f"manylinux_2_{number}" for number in range(17, 28)), "linux"]
    return [word for name in older for word in ("--platform", f"{name}_{machine}")]


def _digest(info: dict[str, Any]) -> str:
    try:
        return str(info["archive_info"]["hashes"]["sha256"])
    except KeyError:
        raise CannotLock("the registry tells no SHA-256 of its files; a lock without them is none") from None
