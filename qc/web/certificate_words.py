"""What is told of the server's certificate to who keeps it or answers for the record, before it ends."""

from datetime import UTC, datetime

from qc.domain.words.speaking import say, say_many

SOON_DAYS = 30  # before that somebody has to make the next one and put it in place


def certificate_words(ends: datetime | None, now: datetime | None = None) -> str:
    """Return when the certificate that is served with ends and what would do, "" while that is far off.

    ends: as it was when the server began, which goes on with it whatever lies in the file; None for plain HTTP.
    """
    left = SOON_DAYS if ends is None else (ends - (now or datetime.now(UTC))).days
    if ends is None or left >= SOON_DAYS:
        return ""
    if left < 0:
        return say(
            "The server's certificate ended on {day}: phones and browsers refuse this server. Put the next one in "
            "place and start the server again.",
            day=ends.date().isoformat(),
        )
    return say_many(
        "The server's certificate ends on {day}, in {number} day. From then on phones and browsers refuse this server: "
        "put the next one in place and start the server again.",
        "The server's certificate ends on {day}, in {number} days. From then on phones and browsers refuse this "
        "server: put the next one in place and start the server again.",
        left,
        day=ends.date().isoformat(),
    )
