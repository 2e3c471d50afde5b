"""How many trials a seeded test makes: a quarter of them on every push, all of them with PEAKWRIGHT_TRIALS=all.

Bounds by chance are worked out from the number made, so that fewer trials are no stricter and no more lenient a rule.
"""

import os
from collections.abc import Sequence
from typing import TypeVar

Case = TypeVar("Case")

EVERY_ONE = os.environ.get("PEAKWRIGHT_TRIALS", "") == "all"
SHARE = 4


def trials(all_of_them: int) -> int:
    """Give how many of so many trials are made now; at least one."""
    return all_of_them if EVERY_ONE else max(1, all_of_them // SHARE)


def first_of(cases: Sequence[Case], count: int) -> Sequence[Case]:
    """Give the first few of some cases, or all of them where every trial is made."""
    return cases if EVERY_ONE else cases[:count]
