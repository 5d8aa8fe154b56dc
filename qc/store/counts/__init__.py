"""One way out: the record's count tables, as `Counts`."""

from qc.store.counts.counts import Counts
from qc.store.counts.presented import LINE

__all__ = ["LINE", "Counts"]
