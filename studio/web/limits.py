"""Was this asked too often in the last hour?

Counted in the memory of this process: a restart forgets, which does no harm, because what is
limited is also guarded otherwise (a link is signed, a password has its own lock).
"""

from django.core.cache import cache

HOUR_S = 60 * 60


def too_many(what: str, *, most: int, within_s: int = HOUR_S) -> bool:
    """Count one more of ``what``; answer whether there were more than ``most`` within the time."""
    key = f"limit-{what}"
    if cache.add(key, 1, within_s):
        return most < 1
    try:
        return int(cache.incr(key)) > most
    except ValueError:
        return False  # the hour ended between the two
