"""The full marks of a file's sealed rows, from one pass over its bytes (mark.md §1)."""

from blake3 import Blake3


class Marks:
    def __init__(self, data, rows):
        self._states = {}
        hasher, done = Blake3(), 0
        for row in rows:
            if row.sealed:
                hasher.update(data[done:row.mark_start])
                done = row.mark_start
                self._states[row.number] = hasher.copy()

    def full(self, row):
        """Worked out only when asked for: most marks are never looked at."""
        return self._states[row.number].hexdigest()

    def hold(self, row):
        return self.full(row).startswith(row.mark)
