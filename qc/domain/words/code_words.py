"""The words of the codes that every plant shares: roles, states, light and weather, reasons, methods, operations.

A code says itself in English, with blanks for its low lines; here the catalogue of each language knows it.
"""

from collections.abc import Mapping

from qc.domain.words.speaking import marked, say

_WORDS: Mapping[str, str] = {
    words.replace(" ", "_"): words
    for words in (
        # Roles
        marked("inspector"),
        marked("tester"),
        marked("repairer"),
        marked("station lead"),
        marked("quality manager"),
        marked("dispatch"),
        marked("administrator"),
        marked("planner"),
        # States of units and of defects
        marked("planned"),
        marked("on line"),
        marked("at end points"),
        marked("in rework"),
        marked("released"),
        marked("cancelled"),
        marked("hold"),
        marked("open"),
        marked("repaired"),
        marked("closed"),
        marked("withdrawn"),
        # Light and weather of an inspection
        marked("bright"),
        marked("overcast"),
        marked("low sun"),
        marked("wet"),
        marked("lamps"),
        marked("dry"),
        marked("rain"),
        marked("wind"),
        marked("frost"),
        marked("indoors"),
        # Why a zone was not looked at
        marked("no safe access"),
        marked("weather"),
        marked("blocked"),
        marked("dark"),
        marked("no time"),
        marked("other"),
        # Severities and how a defect is repaired
        marked("critical"),
        marked("major"),
        marked("minor"),
        marked("rework"),
        marked("repair"),
        # Why a failed test was done again
        marked("instrument"),
        marked("method"),
        marked("reading error"),
        # What is known of an origin
        marked("none"),
        marked("suspected"),
        marked("confirmed"),
        marked("disputed"),
        marked("settled"),
        # Kinds of stations
        marked("main"),
        marked("feeder"),
        marked("remote"),
        marked("test"),
        marked("inspection"),
        marked("external"),
        marked("unknown"),
        # Kinds of operations
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


def code_words(code: str) -> str:
    """Return a code in words of the language spoken; one that is not known here as it stands, without low lines."""
    return say(_WORDS.get(code, code.replace("_", " ")))
