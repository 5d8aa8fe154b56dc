"""A record that has taken every migration and holds nothing yet: made once in a process, copied for each test."""

import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path

from qc.store.record.connection import RECORD, open_writer
from qc.store.tables import migrations


def laid_in(folder: Path) -> Path:
    """Lay the empty record into a folder that has none; a tenth of a second of a core less than to migrate one."""
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / RECORD).exists():
        (folder / RECORD).write_bytes(_empty(migrations.MIGRATIONS[-1].number))
    return folder


@cache
def _empty(version: int) -> bytes:
    """Return it as this version of the program makes it; a test may stand for an earlier one."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        with closing(open_writer(folder / RECORD)) as conn:
            assert migrations.migrate(conn, folder) == version
        assert sorted(path.name for path in folder.iterdir()) == [RECORD], "all of it is in the one file"
        return (folder / RECORD).read_bytes()
