"""Settings for every test: properties are not timed, since a first import or a busy machine is no fault."""

from hypothesis import settings

settings.register_profile("suite", deadline=None)
settings.load_profile("suite")
