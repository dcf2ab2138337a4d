"""How Hypothesis draws: the same examples each time, so that a run says something about a change.

`python -m pytest --hypothesis-profile=wild` draws new ones, and many more.
"""

from hypothesis import HealthCheck, settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("wild", deadline=None, max_examples=1000, suppress_health_check=list(HealthCheck))
settings.load_profile("steady")
