"""Why something is not canonical: the clause it offends and what is wrong."""


class Refused(Exception):
    def __init__(self, section, why):
        super().__init__(why)
        self.clause = f"line.md §{section}"
        self.why = why

    def __str__(self):
        return f"{self.clause}: {self.why}"


def require(holds, section, why):
    if not holds:
        raise Refused(section, why)
