"""The languages that the app, the pages and the handbook speak; the codes are tags of BCP 47."""

LANGUAGES = {"en": "English", "de": "Deutsch"}
