"""The languages that the app and the pages speak, each by its own name; the codes are tags of BCP 47."""

LANGUAGES = {"en": "English", "de": "Deutsch"}
