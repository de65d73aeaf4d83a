"""How many cases a property test looks at: few in a plain run, many in the long one. No test lives here.

`--hypothesis-profile=long` asks for the many. The cases of the plain run are the same each time, so that it never fails by chance.
"""

from __future__ import annotations

from hypothesis import HealthCheck, settings

PLAIN_CASES = 10
LONG_CASES = 40


def register_profiles() -> None:
    """Make the two profiles known and take the plain one; a command line that names one is heard afterwards."""
    slow = [HealthCheck.too_slow]
    settings.register_profile(
        "plain", max_examples=PLAIN_CASES, deadline=None, derandomize=True, suppress_health_check=slow
    )
    settings.register_profile("long", settings.get_profile("plain"), max_examples=LONG_CASES)
    settings.load_profile("plain")


def budget(long: int, plain: int = PLAIN_CASES) -> int:
    """How many cases, or steps of a state machine, this run affords: `long` in the long run, else at most `plain`."""
    return long if settings.get_current_profile_name() == "long" else min(long, plain)
