"""Reckoning with days and times as a line writes them, in the herd's civil time: no zone has a part in it."""

from datetime import date, datetime, timedelta

WRITTEN = "%Y-%m-%d %H:%M"


def between(earlier, later):
    """Days from one date to another."""
    return (date.fromisoformat(later) - date.fromisoformat(earlier)).days


def end_of(day):
    return datetime.fromisoformat(day) + timedelta(days=1)


def end_of_hold(day, time, hold):
    """When a hold ends that was begun then; without a time it is counted from the end of the day (fold.md §12)."""
    start = datetime.fromisoformat(f"{day} {time}") if time else end_of(day)
    count, unit = int(hold[:-1]), hold[-1]
    return start + (timedelta(days=count) if unit == "d" else timedelta(hours=count))
