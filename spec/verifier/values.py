"""Single words of a line: each function takes the word as written and gives its value, or refuses.

Digits are spelled [0-9] throughout: the library's own notion of a digit takes in other scripts.
"""

import re
from decimal import Decimal

from refused import require
from text import is_clean
from vocabulary import TAG_COUNTRIES

RESERVED = {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)}
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
IDENTITY_LIMIT = 2 ** 38


def matches(pattern, word):
    return re.fullmatch(pattern, word) is not None


def is_leap(year):
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def is_real_date(year, month, day):
    if not 1 <= month <= 12:
        return False
    days = 29 if month == 2 and is_leap(year) else MONTH_DAYS[month - 1]
    return 1 <= day <= days


def date(word):
    require(matches("[0-9]{4}-[0-9]{2}-[0-9]{2}", word), 3, f"{word} is not a date YYYY-MM-DD")
    year, month, day = map(int, word.split("-"))
    require(is_real_date(year, month, day), 3, f"{word} is no day of the calendar")
    require(1900 <= year <= 2199, 3, f"{word} is outside 1900 to 2199")
    return word


def time(word):
    require(matches("([01][0-9]|2[0-3]):[0-5][0-9]", word), 3, f"{word} is not a time 00:00 to 23:59")
    return word


def sealed_time(word):
    parts = re.fullmatch("([0-9]{4})-([0-9]{2})-([0-9]{2})T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]Z", word)
    require(parts, 18, f"{word} is not a time YYYY-MM-DDTHH:MM:SSZ")
    require(is_real_date(*map(int, parts.group(1, 2, 3))), 18, f"{word} is no day of the calendar")
    return word


def cow(word):
    require(matches("[1-9][0-9]{0,5}[A-Z]?", word), 4, f"{word} is not a cow's number")
    return word


def name(word):
    require(matches("[a-z][a-z0-9-]{0,31}", word), 4, f"{word} is not a name")
    return word


def who(word):
    require(matches("[a-z][a-z0-9-]{0,15}", word), 5, f"{word} is not who did it")
    return word


def device(word):
    require(matches("[a-z][a-z0-9-]{0,31}", word), 14, f"{word} is not a device's name")
    require(not word.endswith("-"), 14, f"{word} ends in a hyphen")
    require(word not in RESERVED, 14, f"{word} cannot be a file's name everywhere")
    return word


def mark(word):
    require(matches("[0-9a-f]{16}", word), 18, f"{word} is not a mark of 16 digits")
    return word


def hex64(word):
    require(matches("[0-9a-f]{64}", word), 10, f"{word} is not 64 hexadecimal digits")
    return word


def year(word):
    require(matches("[0-9]{4}", word), 10, f"{word} is not a year")
    return word


def quotable(word):
    require(is_clean(word) and word, 8, "a text value is not clean text")
    require(len(word.encode()) <= 80, 8, "a text value is longer than 80 bytes")
    return word


def number(least, most, unit=""):
    """A reader of whole numbers in a range."""
    def read(word):
        require(matches("(0|[1-9][0-9]*)" + unit, word), 11, f"{word} is not a whole number{' of ' + unit if unit else ''}")
        digits = word.removesuffix(unit)
        # The length is looked at first: turning a very long row of digits into a number is refused by Python.
        require(len(digits) <= 10 and least <= int(digits) <= most, 11, f"{word} is not {least} to {most}")
        return int(digits)
    return read


def decimal(word):
    require(matches(r"(0|[1-9][0-9]*)(\.[0-9]?[1-9])?", word), 9, f"{word} is not a decimal number as written here")
    require(0 < Decimal(word) < 100_000, 9, f"{word} is not above 0 and below 100,000")
    return word


def sole(word):
    require(word.endswith("mm"), 10, f"{word} does not end in mm")
    value = decimal(word.removesuffix("mm"))
    require(1 <= Decimal(value) <= 40, 11, f"{word} is not 1 to 40 mm")
    return value


def strength(word):
    value = decimal(word.removesuffix("%"))
    require(Decimal(value) <= 100, 11, f"{word} is more than the whole")
    return value


def hold(word):
    require(matches("(0|[1-9][0-9]{0,3})[dh]", word), 12, f"{word} is not a holding time")
    count, unit = int(word[:-1]), word[-1]
    if unit == "d":
        require(count <= 365, 12, f"{word} is more than 365 days")
    else:
        require(count % 24 != 0, 12, f"{word} is whole days and is written as days")
        require(count <= 8760, 12, f"{word} is more than 8,760 hours")
    return word


def ear_tag(word):
    if word.startswith("UK"):
        return uk_tag(word)
    require(not word.startswith("GR"), 15, f"{word}: Greece is written EL")
    country = next((country for country in TAG_COUNTRIES if word.startswith(country)), "")
    require(country, 15, f"{word} does not begin with a country of ear numbers")
    require(matches("[0-9]{1,12}", word.removeprefix(country)), 15, f"{word} has not 1 to 12 digits")
    return word


def uk_tag(word):
    parts = re.fullmatch("UK([0-9]{6})([0-9])([0-9]{5})", word)
    require(parts, 15, f"{word} is not UK and 12 digits")
    herd, check, animal = parts.groups()
    expected = int(herd + animal) % 7 + 1
    require(int(check) == expected, 15, f"{word} has check digit {check}, not {expected}")
    return word


def electronic(word):
    require(matches("[0-9]{15}", word), 16, f"{word} is not 15 digits")
    require(int(word[3:]) < IDENTITY_LIMIT, 16, f"{word[3:]} does not fit 38 bits")
    return word
