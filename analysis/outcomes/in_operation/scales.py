"""The three scales of what happened in an operation. They measure different things and are never merged."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.outcomes.published import Published
from registry.schema.codes import CodeList
from registry.schema.lists_operation import Satava, UretericLesion, WallInjury


@dataclass(frozen=True, kw_only=True)
class Derived:
    """A group of grades. source: who published the grouping."""

    name: str
    label: str
    grades: tuple[str, ...]
    source: str


@dataclass(frozen=True, kw_only=True)
class Scale:
    """One scale: the column of the treated side that holds its grade, its grades in order, and groups of them."""

    column: str
    short: str
    codes: type[CodeList]
    definition: Published
    derived: tuple[Derived, ...]

    @property
    def grades(self) -> tuple[str, ...]:
        """The codes in the order of severity."""
        return tuple(self.codes.codes())

    def label_of(self, grade: str) -> str:
        """The grade with its text, under the scale's name."""
        return f"{self.short} {self.codes(grade).label}"


SATAVA = Scale(
    column="satava",
    short="Satava",
    codes=Satava,
    definition=Published(
        id="satava-modified-2014",
        version="1",
        label="Modified Satava",
        rule=(
            "1 incident without consequence for the patient; 2a treated endoscopically in the operation; 2b needed "
            "endoscopic re-treatment; 3 needed open or laparoscopic surgery; 0, no incident, is added here so that "
            "nothing is left blank"
        ),
        source="Tepeler et al., World J Urol 2014;32:131-136",
    ),
    derived=(
        Derived(
            name="any",
            label="Satava 1 or more: any incident",
            grades=("1", "2a", "2b", "3"),
            source="Tepeler et al., World J Urol 2014;32:131-136",
        ),
    ),
)

LESION = Scale(
    column="ureteric_lesion",
    short="Lesion scale",
    codes=UretericLesion,
    definition=Published(
        id="post-ureteroscopic-lesion-2012",
        version="1",
        label="Lesion scale (post-ureteroscopic)",
        rule=(
            "0 no lesion; 1 superficial mucosal lesion, significant oedema or haematoma; 2 submucosal lesion; 3 "
            "perforation with less than 50 % partial transection; 4 more than 50 % partial transection; 5 complete "
            "transection; exactly 50 % is not defined and is recorded as 4"
        ),
        source="Schoenthaler et al., J Endourol 2012;26:1425-1430 (grade texts from memory)",
    ),
    derived=(
        Derived(
            name="uncomplicated",
            label="Lesion scale 0 to 2: uncomplicated",
            grades=("0", "1", "2"),
            source="Schoenthaler et al., J Endourol 2012;26:1425-1430",
        ),
        Derived(
            name="complicated",
            label="Lesion scale 3 or more",
            grades=("3", "4", "5"),
            source="the rest of the published 0 to 2",
        ),
    ),
)

WALL = Scale(
    column="wall_injury",
    short="Wall injury",
    codes=WallInjury,
    definition=Published(
        id="access-sheath-wall-injury-2013",
        version="1",
        label="Wall injury after a sheath",
        rule=(
            "0 no lesion or only petechiae; 1 mucosal erosion without injury of smooth muscle; 2 mucosa and muscle, "
            "adventitia preserved; 3 through the adventitia; 4 total avulsion; only where a ureteric sheath was used. "
            "It is not the general trauma scale of the ureter (I to V)"
        ),
        source="Traxer and Thomas, J Urol 2013;189:580-584 (grade texts from memory)",
    ),
    derived=(
        Derived(
            name="low",
            label="Wall injury 0 to 1: low grade",
            grades=("0", "1"),
            source="Traxer and Thomas, J Urol 2013;189:580-584 (from memory)",
        ),
        Derived(
            name="high",
            label="Wall injury 2 to 4: high grade",
            grades=("2", "3", "4"),
            source="Traxer and Thomas, J Urol 2013;189:580-584 (from memory)",
        ),
    ),
)

SCALES = (SATAVA, LESION, WALL)


def lesion_of_transection(share: float) -> str:
    """The lesion grade of a perforation by how much of the circumference is transected, 0 to 1.

    Under half is 3, from half up 4 (exactly half is undefined in the publication, and taken as 4), all of it 5.
    Raises ValueError outside 0 to 1, or for 0: no transection is no perforation, and its grade is 0 to 2.
    """
    if not 0 < share <= 1:
        raise ValueError(f"{share:g} of the circumference cannot be transected: write a share above 0 and up to 1.")
    if share == 1:
        return "5"
    return "4" if share >= 0.5 else "3"
