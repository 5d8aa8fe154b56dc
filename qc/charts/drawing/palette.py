"""The marks of the pictures: colour, shape and dash always together, so that hue never speaks alone.

The colours are those of the light theme in tokens.css (a test compares them); a page in its dark theme swaps
them by name. Blue against orange-brown and red-brown keeps apart for the common kinds of colour blindness, and
each series also has its own marker or pattern.
"""

INK = "#15181b"
QUIET = "#3d444a"
SHEET = "#ffffff"
BAND = "#eceee9"
HAIR = "#b4bab9"
MARK = "#0a3f66"
MARK_SECOND = "#b35900"
MARK_SIGNAL = "#a11c00"
MARK_LIMIT = "#3d444a"
MARK_FILL = "#c9dbe8"
MARK_FILL_SECOND = "#f6ddc2"

TOKENS = {
    "--ink": INK,
    "--quiet": QUIET,
    "--sheet": SHEET,
    "--band": BAND,
    "--hair": HAIR,
    "--mark": MARK,
    "--mark-second": MARK_SECOND,
    "--mark-signal": MARK_SIGNAL,
    "--mark-limit": MARK_LIMIT,
    "--mark-fill": MARK_FILL,
    "--mark-fill-second": MARK_FILL_SECOND,
}
