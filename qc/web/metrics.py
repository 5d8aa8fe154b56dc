"""Figures of the running server for whoever watches it, in the open text format: counts alone, no names and no codes.

What the format asks (names, units, types, escaping) is prometheus-client's; this says only what is counted.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from flask import Flask, Response, abort, current_app, g, request
from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from qc.store.intake.awaited import awaited_count
from qc.store.intake.journal import wall_ms
from qc.store.intake.quarantine import waiting_count
from qc.store.keeping.backup import last_backup
from qc.store.people.mail import not_sent
from qc.store.record.verdicts import Verdict
from qc.web.front import lane_of
from qc.web.house import House

LOOPBACK_ADDRESSES = frozenset({"127.0.0.1", "::1"})
SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
_KEY = "qc.metrics"


class Metrics:
    """What one application counts. queued: requests by lane that are answered or wait; set by the front."""

    def __init__(self, house: House) -> None:
        self.registry = CollectorRegistry()
        self.queued: Callable[[], Mapping[str, int]] = dict
        self._seconds = Histogram(
            "qc_request_seconds", "Seconds from a thread's begin to its answer.", ["lane"], buckets=SECONDS,
            registry=self.registry,
        )  # fmt: skip
        self._answers = Counter("qc_answers", "Answers by their status.", ["lane", "status"], registry=self.registry)
        self._verdicts = Counter("qc_verdicts", "Verdicts on pushed operations.", ["verdict"], registry=self.registry)
        self.registry.register(_State(house, self))

    def answered(self, lane: str, status: int, seconds: float) -> None:
        """Count one answer."""
        self._seconds.labels(lane).observe(seconds)
        self._answers.labels(lane, str(status)).inc()

    def judged(self, verdicts: Iterable[Verdict]) -> None:
        """Count the verdicts on what a phone pushed."""
        for verdict in verdicts:
            self._verdicts.labels(verdict.verdict).inc()


class _State(Collector):
    """What is so when it is asked, read from the record at that moment."""

    def __init__(self, house: House, metrics: Metrics) -> None:
        self._house, self._metrics = house, metrics

    def figures(self) -> Iterator[GaugeMetricFamily]:
        """Yield the figures of this moment."""
        house, conn = self._house, self._house.reads.connection()
        yield _one(
            "qc_record_away_seconds", "For how long the record could not be written.", house.journal.away_seconds()
        )
        yield _one("qc_record_rows", "Rows of the record's chain.", house.reads.chain()[0])
        yield _one("qc_set_aside", "Operations kept without effect that nobody has read.", waiting_count(conn))
        yield _one("qc_units_awaited", "Units that phones recorded on and that are not on record.", awaited_count(conn))
        yield _one("qc_mail_not_sent", "Mails of the last fortnight not sent.", len(not_sent(conn, house.clock())))
        photos, begun = house.photos.unfinished()
        yield _one("qc_photos_unfinished", "Photos of which a part has come.", photos)
        yield _one("qc_photos_unfinished_bytes", "Bytes of photos of which a part has come.", begun)
        queued = GaugeMetricFamily("qc_requests_in_hand", "Requests that are answered or wait.", labels=["lane"])
        for lane, many in sorted(self._metrics.queued().items()):
            queued.add_metric([lane], many)
        yield queued
        yield from self._phones()
        kept = last_backup(house.folder)
        age = GaugeMetricFamily("qc_verified_backup_age_seconds", "Since the newest verified backup; absent: none.")
        if kept is not None and kept.at_ms:
            age.add_metric([], (wall_ms() - kept.at_ms) / 1000)
        yield age

    collect = figures  # as the library asks for it

    def _phones(self) -> Iterator[GaugeMetricFamily]:
        phones = [one for one in self._house.devices.all() if not one.revoked]
        told = [one.word for one in phones if one.word is not None]
        yield _one("qc_phones", "Phones in use.", len(phones))
        yield _one("qc_phones_with_work", "Phones that told of records waiting.", sum(1 for one in told if one.waiting))
        yield _one(
            "qc_phones_waiting_records", "Records waiting, by the phones' word.", sum(one.waiting for one in told)
        )


def register(app: Flask, house: House, collectors: Sequence[str] = ()) -> None:
    """Count what an application answers and tell it at /metrics.

    collectors: addresses besides this machine's own that may ask; others are answered as for a page that is not there.
    """
    metrics = app.extensions[_KEY] = Metrics(house)
    allowed = LOOPBACK_ADDRESSES | set(collectors)

    def begin() -> None:
        g.begun = time.perf_counter()

    def end(response: Response) -> Response:
        seconds = time.perf_counter() - g.get("begun", time.perf_counter())
        metrics.answered(lane_of(request.path, request.method), response.status_code, seconds)
        return response

    def show() -> Response:
        if request.remote_addr not in allowed:
            abort(404)
        encode, kind = choose_encoder(request.headers.get("Accept", ""))
        return Response(encode(metrics.registry), content_type=kind)

    app.before_request_funcs.setdefault(None, []).insert(0, begin)
    app.after_request(end)
    app.add_url_rule("/metrics", "metrics", show, methods=["GET"])


def the_metrics() -> Metrics:
    """Return what the application of the present request counts."""
    found: Metrics = current_app.extensions[_KEY]
    return found


def metrics_of(app: Flask) -> Metrics:
    """Return what an application counts."""
    found: Metrics = app.extensions[_KEY]
    return found


def _one(name: str, words: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(name, words, value=value)
