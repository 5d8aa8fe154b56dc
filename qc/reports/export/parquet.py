"""A table as Parquet: typed columns, each explained in the file, written piece by piece so that memory does not grow.

It needs pyarrow, which an install takes by ``pip install 'daybay[parquet]'``: 55 MB to fetch and 166 MB on disk, half
again of all else that a server needs, for a form that few plants ask for.
"""

import json
from collections.abc import Iterable, Sequence
from typing import IO, Any

from qc.reports.export.columns import TABLES, Column

ROWS = 32_768  # of a piece, which is a row group of the file
MEASURED = frozenset({"value"})  # the numbers that are no whole ones
MISSING = "Parquet needs pyarrow, which is not installed here; install it with: pip install 'daybay[parquet]'"


class NoParquet(Exception):
    """Parquet cannot be written by this install."""


def demand_parquet() -> None:
    """Raise NoParquet where this install cannot write it."""
    try:
        import pyarrow.parquet  # noqa: F401 - slow to import, and few exports ask for it
    except ImportError:
        raise NoParquet(MISSING) from None


def write_parquet(table: str, pieces: Iterable[Sequence[Sequence[Any]]], zone: str, target: IO[bytes]) -> None:
    """Write one table. pieces: its columns as the record holds them, of some rows each; zone: the plant's.

    Raises KeyError for a table of no such name, NoParquet.
    """
    demand_parquet()
    import pyarrow as pa
    from pyarrow import parquet

    columns, schema = TABLES[table], schema_of(table, zone)
    # a dictionary for each text but the ids, which never repeat
    repeated = [column.name for place, column in enumerate(columns) if place and column.sort == "text"]
    with parquet.ParquetWriter(target, schema, compression="zstd", use_dictionary=repeated) as writer:
        for piece in pieces:
            told = zip(piece, columns, schema, strict=True)
            held = [_array(values, column, field.type) for values, column, field in told]
            writer.write_batch(pa.RecordBatch.from_arrays(held, schema=schema))


def schema_of(table: str, zone: str) -> Any:
    """Return a table's schema of Arrow, in whose fields stand what each holds, and together in that of the file."""
    import pyarrow as pa

    types = {
        "text": pa.string(),
        "number": pa.int64(),
        "day": pa.date32(),
        "instant": pa.timestamp("ms", tz=zone),
        "yes or no": pa.bool_(),
        "list": pa.list_(pa.string()),
    }
    fields = [
        pa.field(one.name, pa.float64() if one.name in MEASURED else types[one.sort], metadata={"words": one.words})
        for one in TABLES[table]
    ]
    told = {one.name: one.words for one in TABLES[table]}  # programs that know no Arrow read the file's own words
    return pa.schema(fields, metadata={"table": table, "columns": json.dumps(told, ensure_ascii=False)})


def _array(values: Sequence[Any], column: Column, kind: Any) -> Any:
    """Return a column's values as Arrow has them; what is empty is null, in a list it is one without parts."""
    import pyarrow as pa

    if column.sort == "list":
        return pa.array([json.loads(value) if value else [] for value in values], kind)
    if column.sort in ("text", "day"):
        told = [value or None for value in values] if "" in values else values
        return pa.array(told, pa.string()).cast(kind)
    if column.sort == "yes or no":
        return pa.array([None if value is None else bool(value) for value in values], kind)
    return pa.array(values, kind)
