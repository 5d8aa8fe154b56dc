"""The languages that the app speaks, and the handbook where it is written in them; the codes are tags of BCP 47."""

LANGUAGES = {"en": "English", "de": "Deutsch"}
