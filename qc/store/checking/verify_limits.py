"""What verify does not cover, named in its answer: an edit there is not found, so nobody may rest on what stands there.

Each line names a table and the columns meant, none for the whole row. A test makes every edit of every column of every
table, and fails both for one that is neither found nor named here and for a line here whose edit is found.
"""

from dataclasses import dataclass

TAKEN_OUT = "(taken out)"


@dataclass(frozen=True, slots=True)
class NotCovered:
    """Something that verify cannot know. columns: () for every column, and for rows put in or taken out.

    ``TAKEN_OUT`` among them: for a row taken out.
    """

    table: str
    columns: tuple[str, ...]
    why: str


SIGN_INS = "a row taken out signs somebody out; when it was last used only ends a page left alone"

NOT_COVERED: tuple[NotCovered, ...] = (
    NotCovered("enrolment", (), "an offer lasts ten minutes; what came of it is told in the chain"),
    NotCovered("device_seen", (), "when somebody last signed in on a phone is in no chain"),
    NotCovered("device_word", (), "what a phone says of its version, backlog and clock is signed by nobody"),
    NotCovered("machine_seen", (), "when a machine last used its token is in no chain"),
    NotCovered("token_try", (), "wrong tokens are counted for people to read and are in no chain"),
    NotCovered("drop_file", (), "what became of a dropped file is for people to read; what it entered is in the chain"),
    NotCovered("person_language", (), "what a person has chosen for their own eyes stands in no operation"),
    NotCovered("mail_wish", (), "an address can be forgotten, so no operation of the chain holds it"),
    NotCovered("mail_sent", (), "what became of a mail is noted so that none is sent twice, and is in no chain"),
    NotCovered("sign_in", ("used_ms", TAKEN_OUT), SIGN_INS),
    NotCovered("sign_in_try", (), "wrong tries are forgotten after a day and are in no chain"),
    NotCovered("wrong_try", (), "what is kept of wrong tries is for people to read and in no chain"),
    NotCovered("history_alarm", (), "what phones told is kept beside the record; the phones keep it too"),
    NotCovered("dirty_day", (), "a mark only has a day counted again"),
    NotCovered("migration", ("what",), "the words of a step done"),
    NotCovered("store_setting", (), "a changed epoch has phones offer again what they keep, a changed count recounts"),
    NotCovered("plant_revision", ("since_number",), "only orders the revisions; each operation names its own"),
    NotCovered("photo", ("received_ms",), "when a photo arrived, by the clock of that moment"),
    NotCovered("release_key", ("since_number",), "only orders the keys; each signature names its own"),
)

# What no look at the folder alone can tell, whatever is kept in it.
BEYOND_THE_FOLDER: tuple[str, ...] = (
    (
        "a history written anew in whole, or cut off at its end with all that was derived from it, by somebody who "
        "holds the folder and its keys: give a last row noted elsewhere with --noted, and compare the key ids"
    ),
    "a photo that is named and has neither row nor file: taken away, or never arrived (counted in the notes)",
    "whether what people recorded was so",
)
