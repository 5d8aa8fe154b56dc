"""Version 7 UUIDs, made from an instant and ten random bytes that the caller draws."""


def uuid7_of(ms: int, random: bytes) -> str:
    """Return the version 7 UUID (RFC 9562, 5.7) of ms, milliseconds since 1970 UTC, and ten random bytes."""
    raw = bytearray(ms.to_bytes(6, "big") + random)
    raw[6] = 0x70 | raw[6] & 0x0F
    raw[8] = 0x80 | raw[8] & 0x3F
    text = raw.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
