"""A body read from left to right, a word at a time."""

from refused import Refused, require
from values import quotable


class Cursor:
    def __init__(self, text):
        self.rest = text

    def peek(self):
        return self.rest.partition(" ")[0]

    def word(self):
        require(self.rest, 2, "the line ends too early")
        word, _, self.rest = self.rest.partition(" ")
        return word

    def maybe(self, *words):
        """The next word if it is one of these, else nothing is taken."""
        return self.word() if self.peek() in words else None

    def one_of(self, *words):
        found = self.maybe(*words)
        if found is None:
            raise Refused(10, f"{self.peek()!r} stands where {' or '.join(words)} is expected")
        return found

    def after(self, keyword, read):
        """The value that must follow a keyword."""
        self.one_of(keyword)
        return read(self.word())

    def maybe_after(self, keyword, read):
        """The value that follows a keyword, if the keyword is there."""
        return self.after(keyword, read) if self.peek() == keyword else None

    def quoted(self):
        opening, _, rest = self.rest.partition('"')
        value, closing, rest = rest.partition('"')
        require(opening == "" and closing and rest.startswith(" "), 8, "a text value stands between quotation marks")
        self.rest = rest[1:]
        return quotable(value)

    def maybe_quoted_after(self, keyword):
        if self.maybe(keyword):
            return self.quoted()
        return None
