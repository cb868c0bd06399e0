"""Stone-free status worked by hand: what happened, and what must be said of it.

Each `why` gives the arithmetic. Nothing here was copied from what the program prints. Unless a case says
otherwise the kidney is the left one, operated on 1 March 2024 (day 0), the window is day 14 to 90, and the
question is asked at the end of 2025.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

from tests.golden.stone_free_story import (
    Elsewhere,
    Examination,
    Expected,
    Fragment,
    Operation,
    Patient,
    Reading,
    Side,
    Stone,
    When,
    WorkedCase,
    day,
)

APRIL, MARCH, MAY = (When(dt.date(2024, month, 1), "month") for month in (4, 3, 5))
"""March is day 0 to 30, April day 31 to 60, May day 61 to 91 (one day past the window)."""
YEAR_2024 = When(dt.date(2024, 1, 1), "year")


def at(number: int) -> When:
    return When(day(number))


def mm(low: float | None, high: float | None = None, **more: Any) -> Fragment:
    """mm(3) is 3 mm, mm(2, 4) is 2 to 4 mm."""
    return Fragment(low_mm=low, high_mm=low if high is None else high, **more)


def reading(*fragments: Fragment, **more: Any) -> Reading:
    return Reading(**{"finding": "fragments" if fragments else "none_seen", "fragments": fragments, **more})


def exam(
    modality: str, number: int | When, *readings: Reading, slice_mm: float | None = None, **more: Any
) -> Examination:
    when = number if isinstance(number, When) else at(number)
    ref = f"{modality} {number}" if isinstance(number, int) else f"{modality} vague"
    return Examination(
        **{"ref": ref, "when": when, "modality": modality, "slice_mm": slice_mm, "readings": readings, **more}
    )


def ct(number: int | When, *fragments: Fragment, slice_mm: float | None = 1.0, **more: Any) -> Examination:
    """A CT, thin unless said, with one reading of the left kidney."""
    return exam("ct", number, reading(*fragments), slice_mm=slice_mm, **more)


def us(number: int, *fragments: Fragment) -> Examination:
    return exam("ultrasound", number, reading(*fragments))


def kub(number: int, *fragments: Fragment) -> Examination:
    return exam("kub", number, reading(*fragments))


def look(number: int, *fragments: Fragment, every_calyx: bool) -> Examination:
    return exam("second_look", number, reading(*fragments, every_calyx_seen=every_calyx))


def stage(number: int, **more: Any) -> Operation:
    """Side s2, the first planned stage of course c1, decided on day 0."""
    return Operation(ref="o2", on=day(number), sides=(Side(ref="s2", stage=1, decided_on=day(0), **more),))


def index(**more: Any) -> Operation:
    return Operation(ref="o1", on=day(0), sides=(Side(ref="s1", **more),))


def patient(*examinations: Examination, side: dict[str, Any] | None = None, **more: Any) -> Patient:
    """One patient with the index operation (side s1) and these examinations."""
    operations = (index(**(side or {})), *more.pop("then", ()))
    return Patient(operations=operations, examinations=examinations, **more)


def treated_again(number: int | When, **more: Any) -> tuple[Elsewhere, ...]:
    return (Elsewhere(when=number if isinstance(number, When) else at(number), **more),)


def worked(
    ref: str,
    why: str,
    who: Patient,
    statuses: str,
    rung: str = "study",
    *,
    of: str = "s1",
    picked: str | None = None,
    also: tuple[Expected, ...] = (),
    as_of: dt.date | None = None,
    **options: str,
) -> WorkedCase:
    made = WorkedCase(
        ref=ref,
        why=why,
        patients=(who,),
        expected=(Expected(of, statuses, rung, picked), *also),
        options={name.replace("_", "-"): value for name, value in options.items()},
    )
    return made if as_of is None else dataclasses.replace(made, as_of=as_of)


WHICH_STUDY = (
    worked("clean-thin-ct", "1 mm slices clear at every threshold", patient(ct(30)), "SSSSS"),
    worked("ct-slice-3", "slices over 2 to 3 mm clear from 3 mm up", patient(ct(30, slice_mm=3)), "UUUSS"),
    worked("ct-slice-4", "over 3 to 4 mm from 4; < 4 is just under", patient(ct(30, slice_mm=4)), "UUUUS"),
    worked("ct-slice-5", "thicker slices clear nobody", patient(ct(30, slice_mm=5)), "UUUUU"),
    worked("ct-slice-unknown", "nor does an unknown slice", patient(ct(30, slice_mm=None)), "UUUUU"),
    worked("ct-assumed-2", "taken as 2 mm", patient(ct(30, slice_mm=None)), "SSSSS", assume_slice="2"),
    worked("ct-thick-3mm", "3 mm fails to 2; 5 mm slices clear nothing", patient(ct(30, mm(3), slice_mm=5)), "FFFUU"),
    worked("us-clean", "ultrasound clears nobody", patient(us(30)), "UUUUU"),
    worked("us-3mm", "it can fail: 3 mm is above 2 and not above 4", patient(us(30, mm(3))), "FFFUU"),
    worked("kub-5mm", "5 mm is above every threshold", patient(kub(30, mm(5))), "FFFFF"),
    worked(
        "pair",
        "8 days apart: one study of day 28; 2 mm fails 0 and < 2; no pair clears",
        patient(us(20), kub(28, mm(2))),
        "FFUUU",
        picked="kub 28",
    ),
    worked(
        "pair-14-days",
        "14 days is still a pair: the ultrasound's 5 mm counts on the film's day",
        patient(us(20, mm(5)), kub(34)),
        "FFFFF",
        picked="kub 34",
    ),
    worked(
        "no-pair-15-days",
        "15 apart: two studies; |40-30| = 10 beats |55-30| = 25, so the clean film",
        patient(kub(40), us(55, mm(9))),
        "UUUUU",
        picked="kub 40",
    ),
    worked(
        "us-before-kub-on-a-tie",
        "20 days apart, each 10 from day 30: the better modality",
        patient(kub(20, mm(9)), us(40)),
        "UUUUU",
        picked="ultrasound 40",
    ),
    worked("second-look", "every calyx seen, on the first day", patient(look(14, every_calyx=True)), "SSSSS"),
    worked("second-look-incomplete", "not every calyx: clears nobody", patient(look(30, every_calyx=False)), "UUUUU"),
    worked("second-look-1mm", "1 mm fails only 0", patient(look(30, mm(1), every_calyx=False)), "FUUUU"),
    worked(
        "adequate-first", "the CT of day 14 goes before the nearer ultrasound", patient(ct(14), us(30, mm(9))), "SSSSS"
    ),
    worked(
        "adequate-somewhere-first",
        "3 mm slices are adequate somewhere, 5 mm nowhere; 3.5 is not < 3 but < 4",
        patient(ct(30, slice_mm=5), ct(80, mm(3.5), slice_mm=3)),
        "FFFSS",
        picked="ct 80",
    ),
    worked("nearest", "day 33 is 3 away, day 20 is 10", patient(ct(20), ct(33, mm(3))), "FFFSS", picked="ct 33"),
    worked("last", "the last of the adequate", patient(ct(30), ct(60, mm(3))), "FFFSS", picked="ct 60", pick="last"),
    worked(
        "best",
        "1 mm slices are better than 2",
        patient(ct(30, slice_mm=2), ct(85, mm(6))),
        "FFFFF",
        picked="ct 85",
        pick="best",
    ),
    worked("target-75", "80 is 5 away, 30 is 45", patient(ct(30), ct(80, mm(1))), "FSSSS", picked="ct 80", target="75"),
    worked("window-61-120", "day 30 is outside it", patient(ct(30, mm(6)), ct(100)), "SSSSS", window="61:120"),
    worked("window-middle", "middle of 60:89 is 74", patient(ct(60, mm(9)), ct(74)), "SSSSS", window="60:89"),
    worked("as-published", "every study at its word", patient(kub(30)), "SSSSS", adequacy="as-published"),
    worked("only-ct", "no CT, no study", patient(us(30, mm(5))), "UUUUU", "no_study", imaging="ct"),
    worked("only-pairs", "no film, no pair", patient(us(30, mm(5))), "UUUUU", "no_study", imaging="us+kub"),
    worked(
        "single-ultrasound",
        "the film is not asked",
        patient(us(25), kub(25, mm(8))),
        "SSSSS",
        imaging="us",
        adequacy="as-published",
    ),
    worked("day-13", "a day early", patient(ct(13)), "UUUUU", "no_study"),
    worked("day-90", "the last day", patient(ct(90)), "SSSSS"),
    worked("day-91", "a day late", patient(ct(91)), "UUUUU", "no_study"),
    worked(
        "thinner-on-a-tie",
        "both 10 from day 30: thinner",
        patient(ct(20), ct(40, mm(5), slice_mm=2)),
        "SSSSS",
        picked="ct 20",
    ),
    worked("later-on-a-tie", "alike: the later", patient(ct(20, mm(5)), ct(40)), "SSSSS", picked="ct 40"),
    worked(
        "indeterminate-last",
        "picked only if nothing else is there",
        patient(exam("ct", 30, reading(finding="indeterminate"), slice_mm=1), us(80, mm(6))),
        "FFFFF",
        picked="ultrasound 80",
    ),
    worked(
        "indeterminate-alone",
        "then it is picked, and settles nothing",
        patient(exam("ct", 30, reading(finding="indeterminate"), slice_mm=1)),
        "UUUUU",
    ),
    worked(
        "two-readers-differ",
        "one failure fails; below it both are free",
        patient(exam("ct", 30, reading(), reading(mm(3)), slice_mm=1)),
        "FFFSS",
    ),
    worked(
        "two-readers-one-open",
        "not all are free",
        patient(exam("ct", 30, reading(), reading(finding="indeterminate"), slice_mm=1)),
        "UUUUU",
    ),
    worked(
        "day-0-after",
        "on the day itself, recorded as after; the window begins there",
        patient(ct(0, after_operation=True)),
        "SSSSS",
        window="0:90",
    ),
    worked("day-0-before", "not recorded as after: before", patient(ct(0)), "UUUUU", "no_study", window="0:90"),
)

STONE = (Stone(ref="k1"),)
LEFT_STONE = mm(8, of="k1")

WHICH_FRAGMENTS = (
    worked("2mm", "2 is not < 2 but is <= 2", patient(ct(30, mm(2))), "FFSSS"),
    worked("4mm", "4 is not < 4 but is <= 4", patient(ct(30, mm(4))), "FFFFS"),
    worked(
        "2-to-4", ">= 2 for sure; perhaps above 2; perhaps not < 4; surely <= 4", patient(ct(30, mm(2, 4))), "FFUUS"
    ),
    worked("above-4", "larger than 4", patient(ct(30, Fragment(low_mm=4, above=True))), "FFFFF"),
    worked("above-2", "surely above 2, perhaps above 4", patient(ct(30, Fragment(low_mm=2, above=True))), "FFFUU"),
    worked("up-to-3", "perhaps 2 or more; surely < 4", patient(ct(30, mm(None, 3))), "FUUSS"),
    worked("no-size", "there is one; how large is not known", patient(ct(30, mm(None))), "FUUUU"),
    worked("dust", "dust without a size the same", patient(ct(30, mm(None, kind="dust"))), "FUUUU"),
    worked("dust-1mm", "dust with a size as any fragment", patient(ct(30, mm(1, kind="dust"))), "FSSSS"),
    worked(
        "not-listed",
        "fragments, none described",
        patient(exam("ct", 30, reading(finding="fragments"), slice_mm=1)),
        "FUUUU",
    ),
    worked(
        "alike-and-cluster",
        "the cluster's largest is 3 to 5: above 2, perhaps above 4",
        patient(ct(30, mm(1, kind="alike"), mm(3, 5, kind="cluster"))),
        "FFFUU",
    ),
    worked("encrusted-stent", "no stone of any kind", patient(ct(30, mm(12, of="no_stone"))), "SSSSS"),
    worked("new-stone", "any stone counts", patient(ct(30, mm(6, of="new"))), "FFFFF"),
    worked("new-stone-targeted", "it was not treated", patient(ct(30, mm(6, of="new"))), "SSSSS", stones="targeted"),
    worked("not-said-targeted", "not said counts", patient(ct(30, mm(6))), "FFFFF", stones="targeted"),
    worked("left-any", "any stone counts", patient(ct(30, LEFT_STONE), side={"left": ("k1",)}, stones=STONE), "FFFFF"),
    worked(
        "left-targeted",
        "left on purpose, said before access",
        patient(ct(30, LEFT_STONE), side={"left": ("k1",)}, stones=STONE),
        "SSSSS",
        stones="targeted",
    ),
    worked(
        "left-late-targeted",
        "said only afterwards: it counts",
        patient(ct(30, LEFT_STONE), side={"left_late": ("k1",)}, stones=STONE),
        "FFFFF",
        stones="targeted",
    ),
)

WHO_IS_IN = (
    worked(
        "drainage", "no stone was to be removed", patient(ct(30), side={"intent": "drainage"}), "OOOOO", "out_intent"
    ),
    worked("not-started", "no scope went in", patient(side={"conduct": "not_started"}), "OOOOO", "out_not_started"),
    worked("no-stone", "none found", patient(ct(30), side={"conduct": "no_stone_found"}), "OOOOO", "out_no_stone"),
    worked("abandoned", "in, and failed", patient(side={"conduct": "abandoned"}), "FFFFF", "abandoned"),
    worked("abandoned-clean", "the study goes first", patient(ct(30), side={"conduct": "abandoned"}), "SSSSS"),
    worked("access-failed", "in, and not seen", patient(side={"access_failed": True}), "UUUUU", "no_study"),
    worked(
        "protocol-access",
        "per protocol out",
        patient(ct(30), side={"access_failed": True}),
        "OOOOO",
        "out_access_failed",
        denominator="protocol",
    ),
    worked(
        "protocol-abandoned",
        "per protocol out",
        patient(ct(30), side={"conduct": "abandoned"}),
        "OOOOO",
        "out_abandoned",
        denominator="protocol",
    ),
    worked("waiting", "day 90 is not over", patient(), "NNNNN", "not_due", as_of=day(90)),
    worked("due", "day 91: over", patient(), "UUUUU", "no_study", as_of=day(91)),
    worked("waiting-though-failed", "not due goes first", patient(ct(30, mm(9))), "NNNNN", "not_due", as_of=day(60)),
    worked("after-as-of", "operated on a day later", patient(), "OOOOO", "out_after_as_of", as_of=day(-1)),
)

WHAT_HAPPENED = (
    worked("unseen", "nothing known", patient(), "UUUUU", "no_study"),
    worked("retreated", "no study before", patient(elsewhere=treated_again(50)), "FFFFF", "retreated_unplanned"),
    worked("seen-then-retreated", "the study was first", patient(ct(30), elsewhere=treated_again(50)), "SSSSS"),
    worked(
        "retreated-then-seen",
        "after the end nothing is looked at",
        patient(ct(40), elsewhere=treated_again(20)),
        "FFFFF",
        "retreated_unplanned",
    ),
    worked(
        "retreated-unknown",
        "by choice",
        patient(elsewhere=treated_again(50)),
        "UUUUU",
        "retreated_unplanned",
        retreated="unknown",
    ),
    worked("retreated-day-90", "last day", patient(elsewhere=treated_again(90)), "FFFFF", "retreated_unplanned"),
    worked(
        "retreated-day-91",
        "a new course, and too late to count",
        patient(elsewhere=treated_again(91, kind="index", course=None)),
        "UUUUU",
        "no_study",
    ),
    worked(
        "other-kidney-retreated",
        "not this one",
        patient(ct(40), elsewhere=treated_again(20, kidney="right", kind="index", course=None)),
        "SSSSS",
    ),
    worked(
        "staged",
        "the stage of day 60 comes before any study; its own day 30 is day 90",
        patient(ct(90), then=(stage(60),)),
        "FFFFF",
        "retreated_planned",
        also=(Expected("s2", "SSSSS", "study"),),
    ),
    worked(
        "seen-on-the-day-of-the-stage",
        "before it, as nothing says after",
        patient(ct(60, mm(3)), then=(stage(60),)),
        "FFFSS",
        also=(Expected("s2", "UUUUU", "no_study"),),
    ),
    worked(
        "seen-after-the-stage",
        "recorded as after it",
        patient(ct(60, after_operation=True), then=(stage(60),)),
        "FFFFF",
        "retreated_planned",
    ),
    worked(
        "twice-in-one-day",
        "the second operation of the day ends the first",
        patient(
            ct(30),
            then=(Operation(ref="o2", on=day(0), number=2, sides=(Side(ref="s2", stage=None, kind="auxiliary"),)),),
        ),
        "FFFFF",
        "retreated_unplanned",
        also=(Expected("s2", "SSSSS", "study"),),
    ),
    worked("kidney-lost", "before any study", patient(lost=(("left", at(40)),)), "FFFFF", "kidney_lost"),
    worked("other-kidney-lost", "not this one", patient(lost=(("right", at(40)),)), "UUUUU", "no_study"),
    worked("seen-then-lost", "the study was first", patient(ct(30, mm(2)), lost=(("left", at(40)),)), "FFSSS"),
    worked("died", "no study before", patient(died=at(40)), "DDDDD", "died"),
    worked("died-failed", "by choice", patient(died=at(40)), "FFFFF", "died", died="failed"),
    worked("seen-then-died", "the study was first", patient(ct(30), died=at(40)), "SSSSS"),
    worked("died-day-91", "after the window", patient(died=at(91)), "UUUUU", "no_study"),
    worked(
        "abandoned-died",
        "abandoned goes first",
        patient(side={"conduct": "abandoned"}, died=at(40)),
        "FFFFF",
        "abandoned",
    ),
    worked(
        "abandoned-retreated",
        "retreated goes first",
        patient(side={"conduct": "abandoned"}, elsewhere=treated_again(40)),
        "FFFFF",
        "retreated_unplanned",
    ),
    worked(
        "unclear-then-retreated",
        "the ultrasound is the study, and settles nothing",
        patient(us(30), elsewhere=treated_again(50)),
        "UUUUU",
    ),
)

VAGUE_DATES = (
    worked("ct-april", "day 31 to 60: inside", patient(ct(APRIL)), "SSSSS"),
    worked("ct-march", "day 0 to 30: perhaps before day 14", patient(ct(MARCH)), "UUUUU", "undated_study"),
    worked("ct-may", "day 61 to 91: perhaps after day 90", patient(ct(MAY)), "UUUUU", "undated_study"),
    worked(
        "retreated-april", "inside on any day", patient(elsewhere=treated_again(APRIL)), "FFFFF", "retreated_unplanned"
    ),
    worked(
        "retreated-may",
        "perhaps day 91",
        patient(elsewhere=treated_again(MAY)),
        "UUUUU",
        "undated_retreatment",
    ),
    worked(
        "retreated-april-seen-in-april",
        "before or after the study of day 45?",
        patient(ct(45), elsewhere=treated_again(APRIL)),
        "UUUUU",
        "undated_retreatment",
    ),
    worked("seen-then-retreated-may", "day 40 is before May", patient(ct(40), elsewhere=treated_again(MAY)), "SSSSS"),
    worked(
        "ct-march-then-retreated",
        "the study isn't picked; day 60 is sure",
        patient(ct(MARCH), elsewhere=treated_again(60)),
        "FFFFF",
        "retreated_unplanned",
    ),
    worked("lost-2024", "within the window or not", patient(lost=(("left", YEAR_2024),)), "UUUUU", "undated_loss"),
    worked("lost-april", "inside on any day", patient(lost=(("left", APRIL),)), "FFFFF", "kidney_lost"),
    worked("died-may", "counts as inside", patient(died=MAY), "DDDDD", "died"),
    worked("seen-died-2024", "nobody is scanned after death", patient(ct(30), died=YEAR_2024), "SSSSS"),
)


def both_kidneys(left: tuple[Fragment, ...] | None, right: tuple[Fragment, ...] | None, **more: Any) -> Patient:
    """One operation on both kidneys, sides l and r, and a thin CT of day 30 for those that were read."""
    readings = [
        reading(*seen, kidney=kidney) for kidney, seen in (("left", left), ("right", right)) if seen is not None
    ]
    right_side = {"ref": "r", "kidney": "right", "course": "c2", **more.pop("right_side", {})}
    operation = Operation(ref="o1", on=day(0), sides=(Side(ref="l"), Side(**right_side)))
    return Patient(operations=(operation,), examinations=(exam("ct", 30, *readings, slice_mm=1),), **more)


BOTH_UNSEEN = Patient(operations=both_kidneys(None, None).operations)
TWO_COURSES_ONE_DAY = Patient(
    operations=(
        Operation(ref="o1", on=day(0), sides=(Side(ref="l"),)),
        Operation(ref="o2", on=day(0), number=2, sides=(Side(ref="r", kidney="right", course="c2"),)),
    ),
    examinations=(exam("ct", 30, reading(), reading(mm(5), kidney="right"), slice_mm=1),),
)
STAGED = patient(ct(30, mm(9)), ct(90), then=(stage(60),))
HELPED = patient(ct(70), elsewhere=treated_again(40))
INTERRUPTED = patient(
    ct(90),
    then=(
        Operation(ref="o3", on=day(20), sides=(Side(ref="s3", course=None, stage=None, kind="unplanned"),)),
        stage(60),
    ),
)
LATER_COURSE = patient(ct(150), then=(Operation(ref="o2", on=day(120), sides=(Side(ref="s2", course="c2"),)),))
ABANDONED_THEN_STAGED = patient(side={"conduct": "abandoned"}, then=(stage(60),))
TWO_STONES = (Stone(ref="k1"), Stone(ref="k2"))


def stones_treated(*fragments: Fragment, stones: tuple[Stone, ...] = TWO_STONES) -> Patient:
    return patient(ct(30, *fragments), side={"aimed": tuple(stone.ref for stone in stones)}, stones=stones)


LARGER_UNITS = (
    worked("both-operation", "any failed: failed", both_kidneys((), (mm(5),)), "FFFFF", of="o1", unit="operation"),
    worked("both-patient", "the same from the patient", both_kidneys((), (mm(5),)), "FFFFF", of="p1", unit="patient"),
    worked(
        "both-sides",
        "each for itself; an examination without a reading of a kidney settles nothing for it",
        both_kidneys((mm(3),), None),
        "FFFSS",
        of="l",
        also=(Expected("r", "UUUUU", "study"),),
    ),
    worked(
        "both-one-unseen",
        "failed to 2 mm; above, the other side is unknown",
        both_kidneys((mm(3),), None),
        "FFFUU",
        of="o1",
        unit="operation",
    ),
    worked(
        "both-one-out",
        "only the eligible side speaks",
        both_kidneys((), None, right_side={"conduct": "not_started"}),
        "SSSSS",
        of="o1",
        unit="operation",
    ),
    worked(
        "both-one-died",
        "the left was treated again on day 20 and failed, the right died unseen: any died goes first",
        dataclasses.replace(BOTH_UNSEEN, elsewhere=treated_again(20), died=at(40)),
        "DDDDD",
        "died",
        of="o1",
        unit="operation",
    ),
    worked(
        "both-one-died-sides",
        "the same, each side for itself",
        dataclasses.replace(BOTH_UNSEEN, elsewhere=treated_again(20), died=at(40)),
        "FFFFF",
        "retreated_unplanned",
        of="l",
        also=(Expected("r", "DDDDD", "died"),),
    ),
    worked(
        "both-one-not-read-died",
        "the CT of day 30 has no reading of the right: nothing else is there, so it is its study, before the death",
        dataclasses.replace(both_kidneys((), None), died=at(40)),
        "SSSSS",
        of="l",
        also=(Expected("r", "UUUUU", "study"),),
    ),
    worked(
        "both-one-looked-into-died",
        "an endoscope in the left says nothing of the right, of which nothing was known at the death",
        dataclasses.replace(BOTH_UNSEEN, examinations=(look(30, every_calyx=True),), died=at(40)),
        "SSSSS",
        of="l",
        also=(Expected("r", "DDDDD", "died"),),
    ),
    worked(
        "both-nobody-read",
        "of the film nothing is recorded; it may have shown either, and was before the treatment of day 50",
        dataclasses.replace(BOTH_UNSEEN, examinations=(exam("kub", 30),), elsewhere=treated_again(50)),
        "UUUUU",
        of="l",
        also=(Expected("r", "UUUUU", "study"),),
    ),
    worked("first-operation", "of two in one day the first", TWO_COURSES_ONE_DAY, "SSSSS", of="p1", unit="patient"),
    worked(
        "courses-of-the-day",
        "both courses begun that day",
        TWO_COURSES_ONE_DAY,
        "FFFFF",
        of="p1",
        unit="patient",
        sessions="planned",
    ),
    worked(
        "patient-later", "the later operation is not asked", LATER_COURSE, "UUUUU", "no_study", of="p1", unit="patient"
    ),
    worked(
        "course-single",
        "its index side: the 9 mm of day 30",
        STAGED,
        "FFFFF",
        of="c1",
        unit="course",
        picked="ct 30",
    ),
    worked(
        "course-planned",
        "30 days after the stage of day 60",
        STAGED,
        "SSSSS",
        of="c1",
        unit="course",
        sessions="planned",
        picked="ct 90",
    ),
    worked(
        "course-waiting",
        "60 + 90 = 150 is not over on day 150",
        STAGED,
        "NNNNN",
        "not_due",
        of="c1",
        unit="course",
        sessions="planned",
        as_of=day(150),
    ),
    worked(
        "course-stage-to-come",
        "the stage of day 120 is not read on day 100: the index of day 0 is the anchor",
        patient(ct(30), then=(stage(120),)),
        "SSSSS",
        of="c1",
        unit="course",
        sessions="planned",
        as_of=day(100),
    ),
    worked(
        "helped-planned",
        "auxiliary treatment is an end",
        HELPED,
        "FFFFF",
        "retreated_unplanned",
        of="c1",
        unit="course",
        sessions="planned",
    ),
    worked(
        "helped-auxiliary",
        "day 70 is 30 after it",
        HELPED,
        "SSSSS",
        of="c1",
        unit="course",
        sessions="auxiliary",
    ),
    worked(
        "interrupted",
        "an unplanned treatment between the stages ends the course",
        INTERRUPTED,
        "FFFFF",
        "retreated_unplanned",
        of="c1",
        unit="course",
        sessions="planned",
    ),
    worked(
        "interrupted-sides",
        "each side ends at the next",
        INTERRUPTED,
        "FFFFF",
        "retreated_unplanned",
        also=(Expected("s3", "FFFFF", "retreated_planned"), Expected("s2", "SSSSS", "study")),
    ),
    worked(
        "later-course",
        "each course for itself",
        LATER_COURSE,
        "UUUUU",
        "no_study",
        of="c1",
        unit="course",
        sessions="auxiliary",
        also=(Expected("c2", "SSSSS", "study"),),
    ),
    worked(
        "abandoned-then-staged",
        "the last stage was completed, and nobody looked",
        ABANDONED_THEN_STAGED,
        "UUUUU",
        "no_study",
        of="c1",
        unit="course",
        sessions="planned",
    ),
    worked(
        "abandoned-then-staged-single",
        "the next stage is the end",
        ABANDONED_THEN_STAGED,
        "FFFFF",
        "retreated_planned",
        of="c1",
        unit="course",
    ),
    worked(
        "stones-linked",
        "the fragment is of the first",
        stones_treated(mm(5, of="k1")),
        "FFFFF",
        of="k1",
        unit="stone",
        also=(Expected("k2", "SSSSS", "study"),),
    ),
    worked(
        "stones-not-linked",
        "of one of them, which is not said; 3 mm passes at < 4 and 4 whosever it is",
        stones_treated(mm(3)),
        "UUUSS",
        of="k1",
        unit="stone",
        also=(Expected("k2", "UUUSS", "study"),),
    ),
    worked("stone-alone", "it can be of no other", stones_treated(mm(3), stones=STONE), "FFFSS", of="k1", unit="stone"),
)

CASES = (*WHICH_STUDY, *WHICH_FRAGMENTS, *WHO_IS_IN, *WHAT_HAPPENED, *VAGUE_DATES, *LARGER_UNITS)
