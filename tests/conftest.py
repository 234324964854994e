"""What all tests share: no test is timed, so a busy machine makes none of them fail."""

from hypothesis import settings

settings.register_profile("labkit", deadline=None)
settings.load_profile("labkit")
