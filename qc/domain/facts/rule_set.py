"""The rule set of this program, and what each number of it brought.

A journal row keeps the number in force at its receipt, and is settled by that number for ever: what an earlier
program applied or refused comes out the same when the record is derived anew. A change in what is applied or refused
takes the next number here, and asks for it where it judges.
"""

from collections.abc import Mapping

RULES = 23
# 2: days far from the day of receipt are refused.
DAYS_JUDGED = 2
# 3: a further value of a test after a failure needs a reason; a value outside what the tests' table calls plausible
# needs a yes; the failure of a hazardous test blocks the release until a defect tells it.
FAILURES_STAND = 3
# 4: an operation is let in where its author's key, certified by the server, signed it; before, where the session that
# it names was that author's on that device.
AUTHORS_PROVED = 4
# 5: people and phones are told by operations.
PEOPLE_TOLD = 5
# 6: everybody changes their own PIN or passphrase, on a page or a phone of theirs.
OWN_SECRET = 6
# 7: a planned unit is cancelled and taken up again; a cancelled one is not released and its plan changes no more.
CANCELLING = 7
# 8: a photo may say where on it the flaw is circled.
FLAW_CIRCLED = 8
# 9: the passing of a station is taken back.
PASSINGS_TAKEN_BACK = 9
# 10: the tokens of machines are told by operations.
MACHINES_TOLD = 10
# 11: the plant's tables are revised, and an operation may name the tables that it was made under.
TABLES_REVISED = 11
# 12: where a unit stands is told.
UNITS_MOVED = 12
# 13: a unit is met before it is planned; it is not released until it is.
UNITS_MET = 13
# 14: a unit's number is of the plant's own form, up to 24 characters; an option's code holds any letters.
OWN_NUMBERS = 14
# 15: a defect may say which of the plant's own severities it has, beside which of the three that counts as.
OWN_SEVERITIES = 15
# 16: the words of refusals and alarms name what they told by codes alone.
CODES_NAMED = 16
# 17: a defect may say the lot of the part that it is on.
LOTS_TOLD = 17
# 18: where a unit stands is told in one line.
PLACES_IN_ONE_LINE = 18
# 19: a person may have further roles; what one role checks of another's work is not done by one person in both.
ROLES_TOGETHER = 19
# 20: on which of several lines a unit is built is told.
LINES_TOLD = 20
# 21: the words of refusals and alarms say a defect's severity in the plant's own words, where it has such.
SEVERITIES_NAMED = 21
# 22: the code of a new person, phone or token begins with a letter or a figure; CONSOLE is nobody's.
CODES_BEGIN = 22
# 23: what a phone records on a unit that is not on record waits for it, where it was refused for good.
UNITS_AWAITED = 23

# Fields of a body that a kind did not know from its beginning, with the rule set that brought them: an earlier
# program refused a body that held one, and that answer stands.
SINCE: Mapping[tuple[str, str], int] = {
    ("test_recorded", "again"): FAILURES_STAND,
    ("test_recorded", "beyond"): FAILURES_STAND,
    ("test_recorded", "confirmed"): FAILURES_STAND,
    ("defect_recorded", "result"): FAILURES_STAND,
    ("photo_attached", "circle"): FLAW_CIRCLED,
    ("defect_recorded", "grade"): OWN_SEVERITIES,
    ("field_finding", "grade"): OWN_SEVERITIES,
    ("defect_recorded", "lot"): LOTS_TOLD,
    ("field_finding", "lot"): LOTS_TOLD,
    ("person_added", "also"): ROLES_TOGETHER,
    ("person_assigned", "also"): ROLES_TOGETHER,
    ("unit_planned", "line"): LINES_TOLD,
    ("unit_met", "line"): LINES_TOLD,
}
