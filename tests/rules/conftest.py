"""Hypothesis is held to a modest number of examples, so that these tests run in a minute on one core."""

from hypothesis import settings

settings.register_profile("rules", max_examples=40, deadline=None)
settings.load_profile("rules")
