"""Settings for every test: a busy machine is no reason for a property to fail, so that no example has a time limit."""

from hypothesis import settings

settings.register_profile("samechanges", deadline=None)
settings.load_profile("samechanges")
