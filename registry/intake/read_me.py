"""What the first sheet of the workbook says."""

READ_ME_LINES = (
    "How to fill in this workbook",
    "This workbook will hold data of patients. Keep it inside the hospital, on a drive that only the unit can open, "
    "and delete it when it is loaded. Do not send it by mail.",
    "Names, hospital numbers and birth dates belong in the sheets Identity and Hospital number and nowhere else. "
    "Write no names into notes. Everywhere else the patient is the study number.",
    "One sheet holds one kind of row. Row 1 holds the headings: do not change them. The order of the columns and of "
    "the rows does not matter. Columns that you do not need may be left out.",
    "Row 2 of every sheet is an example. It is not read, and you may delete it. Type over it only if you also clear "
    "its last cell. That last column, row_note, is otherwise free for remarks of your own, which are not read either.",
    "Rest the pointer on a heading to see what it means, its unit, its limits and its list.",
    "Start with Site, Operator, Equipment model and Patient, then Renal unit, Course and Operation, then the rest. "
    "Rows are tied together by what names them: site, study number, date of the operation, renal unit.",
    "Dates: a date cell, or text with the year first, as 2024-05-03. Where the day is not known, 2024-05 or 2024, if "
    "the note on the heading allows it. 03/04/2024 is refused: it can be two days.",
    "Numbers: a number in the unit that the heading names. A value in another unit is converted if its unit stands "
    "beside it, as in 1.4 mg/dL. The decimal mark is a point. Ranges such as 5-7 are refused.",
    "Lists: choose from the drop-down, or type the code or its label. Where a cell takes several codes, separate them "
    "by semicolons.",
    "Missing values: leave the cell blank, or type the reason: not_done, not_recorded, not_applicable, pending, "
    "refused. Never type 0 or 999 for a value that is not known. Where one of these words is itself the value, type "
    "it in double quotes; for the reason in such a column type missing: refused.",
    "When it is filled in: gravelbook intake check FILE lists everything that is wrong, with its cell, and changes "
    "nothing. gravelbook intake load FILE loads all of it, or nothing if there is an error.",
)
