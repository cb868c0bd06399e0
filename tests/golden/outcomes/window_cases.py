"""Who was reviewed, what lay in the window, and what the rates are: counted by hand before anything was run.

Everybody has one operation on 1 March 2024 and a contact on day 100 unless said. As-of is 31 December 2025.

Of 27 operations by day 30: 26 due, 22 reviewed, 20 of these known (not month-across, no-onset), 12 with a complication.
By day 90: 25 due, 21 reviewed, 20 of these known (not no-onset), 16 with a complication.
"""

from __future__ import annotations

import datetime as dt

from tests.golden.outcomes.story_book import DAY_0, Book, Operation, Person, day

TENTH = dt.date(2024, 3, 10)
"""Its day 30 is 9 April, so that April lies on both sides of it; 1 March's day 30 is 31 March."""


def write(book: Book) -> None:
    for name, onset in (("day-30", 30), ("day-31", 31), ("day-90", 90), ("day-91", 91)):
        _one(book, name).complication("bleeding", onset, "transfusion")
    _one(book, "month-across", TENTH).complication("bleeding", "2024-04", "transfusion")
    _one(book, "month-inside").complication("bleeding", "2024-03", "transfusion")
    _one(book, "month-after").complication("bleeding", "2024-04", "transfusion")
    _one(book, "no-onset").complication("bleeding", None, "transfusion")
    for name in ("also-after", "main-only"):
        first, second = _twice(book.person(name))
        made = second.complication("bleeding", 5, "transfusion")
        if name == "also-after":
            made.also_after(first)
    both = book.person("bilateral")
    both.operation(right=True).complication("bleeding", 3, "transfusion")
    both.contact(day(100))
    _reviews(book)
    _indices(book)


def _one(book: Book, name: str, on: dt.date = DAY_0) -> Operation:
    person = book.person(name)
    made = person.operation(on)
    person.contact(day(100, on))
    return made


def _twice(person: Person) -> tuple[Operation, Operation]:
    """The second 24 days after the first; reviewed to day 120 of the first, 96 of the second."""
    made = person.operation(), person.operation(day(24), side={"stage_number": None, "course_number": None})
    person.contact(day(120))
    return made


def _reviews(book: Book) -> None:
    for name, contact, known_to in (("contact-30", 30, None), ("contact-29", 29, None), ("known-to-20", 40, 20)):
        person = book.person(name)
        person.operation()
        person.contact(day(contact), None if known_to is None else day(known_to))
    book.person("unreviewed-known").operation().complication("bleeding", 5, "transfusion")
    book.person("died-12", died_on=day(12)).operation()
    book.person("died-in-april", died_on="2024-04").operation(TENTH)
    book.person("not-due").operation(dt.date(2025, 12, 1))
    book.person("just-due").operation(dt.date(2025, 11, 30))


def _indices(book: Book) -> None:
    several = _one(book, "I+II+IIIb")
    several.complication("fever", 1, "antipyretic")
    several.complication("bleeding", 2, "transfusion")
    several.complication("obstruction", 3, ("stent_placed", "general"))
    worst = _one(book, "5xIVb")
    for onset in range(1, 6):
        worst.complication("sepsis", onset, "intensive_care", organs_failing=2)
    person = book.person("died-of-it", died_on=day(12))
    person.operation().complication("sepsis", 3, "antibiotic", died_of_it="yes")
    twice = _one(book, "I+I")
    twice.complication("fever", 1, "antipyretic")
    twice.complication("fever", 20, "antipyretic")
    _one(book, "open-grade").complication("obstruction", 3, ("stent_placed", None))
    later = _one(book, "I-then-IIIb")
    later.complication("fever", 5, "antipyretic")
    later.complication("obstruction", 60, ("stent_placed", "general"))
