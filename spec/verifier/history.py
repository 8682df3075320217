"""What was so from which day on: a cow's group, whether she was dry, the protocol that applied."""


class History:
    """Taken in the order of days; of one day the last that was added holds at its end."""

    def __init__(self, before=None):
        self._before, self._changes = before, []

    def add(self, day, value):
        self._changes.append((day, value))

    @property
    def last(self):
        return self._changes[-1][1] if self._changes else self._before

    def at_end_of(self, day):
        return next((value for since, value in reversed(self._changes) if since <= day), self._before)
