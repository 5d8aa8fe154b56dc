"""What is told of the server's clock to who keeps it or answers for the record, where something speaks against it."""

from datetime import datetime
from zoneinfo import ZoneInfo

from qc.domain.words.speaking import say
from qc.store.reading.clock_doubt import clock_doubt
from qc.web.house import House

_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000


def clock_words(house: House) -> str:
    """Return what is wrong with the server's clock and what would do, "" while nothing speaks against it.

    An invented plant lives at another time than the phones that are tried with it.
    """
    now = house.clock()
    doubt = clock_doubt(house.reads.connection(), now, ask_phones=not house.demo)
    if doubt is None:
        return ""
    zone = ZoneInfo(house.plant.time_zone)
    told = [say("The server's clock shows {now}.", now=_minute(now, zone))]
    if doubt.last_ms:
        told.append(
            say(
                "What came last to the record is dated {last}: the clock is behind, or was ahead then.",
                last=_minute(doubt.last_ms, zone),
            )
        )
    if doubt.phones:
        much = _much(abs(doubt.ahead_ms))
        if doubt.ahead_ms > 0:
            words = say(
                "By most of the {phones} phones heard within the hour it is {much} ahead.",
                phones=doubt.phones,
                much=much,
            )
        else:
            words = say(
                "By most of the {phones} phones heard within the hour it is {much} behind.",
                phones=doubt.phones,
                much=much,
            )
        told.append(words)
    told.append(say("What comes in is dated by it for good: set it, and have it kept by the network."))
    return " ".join(told)


def _minute(ms: int, zone: ZoneInfo) -> str:
    return f"{datetime.fromtimestamp(ms / 1000, zone):%Y-%m-%d %H:%M}"


def _much(ms: int) -> str:
    if ms < 2 * _HOUR_MS:
        return say("{number} minutes", number=ms // 60_000)
    if ms < 2 * _DAY_MS:
        return say("{number} hours", number=ms // _HOUR_MS)
    return say("{number} days", number=ms // _DAY_MS)
