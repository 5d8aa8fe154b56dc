"""A data folder's files in hand, to be laid into other folders: what took a while to make is made once in a process."""

import sqlite3
from contextlib import closing
from pathlib import Path

from qc.store.record.connection import RECORD

Files = dict[str, bytes]  # by their path in the folder


def taken_up(folder: Path) -> Files:
    """Return a folder's files, its record whole in one of them; readers may still have it open."""
    files = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith((RECORD, "writer.lock"))
    }
    with closing(sqlite3.connect(folder / RECORD)) as conn, closing(sqlite3.connect(folder / "whole")) as whole:
        conn.backup(whole)
    return {**files, RECORD: (folder / "whole").read_bytes()}


def lay(files: Files, folder: Path) -> None:
    """Lay the files into a folder that has none, readable by their owner alone as keys have to be."""
    for name, data in files.items():
        (folder / name).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
        (folder / name).chmod(0o600)
