"""The kinds of operations in words: for one whose own words cannot be made, and for what is on no unit."""

from collections.abc import Mapping

from qc.domain.speaking import marked, say

_KINDS: Mapping[str, str] = {
    words.replace(" ", "_"): words
    for words in (
        marked("unit planned"),
        marked("plan changed"),
        marked("unit cancelled"),
        marked("unit taken up"),
        marked("station passed"),
        marked("unit met"),
        marked("unit moved"),
        marked("passing withdrawn"),
        marked("inspection begun"),
        marked("inspection ended"),
        marked("zone looked at"),
        marked("zone not looked at"),
        marked("defect recorded"),
        marked("defect corrected"),
        marked("defect withdrawn"),
        marked("photo attached"),
        marked("photo withdrawn"),
        marked("test recorded"),
        marked("test withdrawn"),
        marked("origin suspected"),
        marked("origin confirmed"),
        marked("origin passed on"),
        marked("origin disputed"),
        marked("origin settled"),
        marked("repair done"),
        marked("recheck accepted"),
        marked("recheck failed"),
        marked("unit released"),
        marked("field finding"),
        marked("hold placed"),
        marked("hold lifted"),
        marked("concession granted"),
        marked("release taken back"),
        marked("change noted"),
        marked("signal muted"),
        marked("signal unmuted"),
        marked("action opened"),
        marked("action checked"),
        marked("action closed"),
        marked("quarantine taken"),
        marked("quarantine left"),
        marked("key changed"),
        marked("person added"),
        marked("person assigned"),
        marked("person ended"),
        marked("person returned"),
        marked("secret changed"),
        marked("device enrolled"),
        marked("device secret given"),
        marked("device revoked"),
        marked("device restored"),
        marked("token made"),
        marked("token ended"),
        marked("person stood"),
        marked("device stood"),
        marked("plant revised"),
    )
}


def kind_words(kind: str) -> str:
    """Return a kind in words of the language spoken: "unit cancelled"; one of a later version as its code says it."""
    return say(_KINDS[kind]) if kind in _KINDS else kind.replace("_", " ")
