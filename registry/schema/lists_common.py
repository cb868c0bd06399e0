"""Code lists that several subjects share."""

from registry.schema.codes import CodeList


class YesNo(CodeList):
    """Yes or no. Not known is not a third answer: the value is missing, with its reason."""

    YES = "yes", "Yes"
    NO = "no", "No"


class MissingReason(CodeList):
    """Why a value is missing."""

    NOT_DONE = "not_done", "Not done"
    NOT_RECORDED = "not_recorded", "Not recorded"
    NOT_APPLICABLE = "not_applicable", "Not applicable"
    PENDING = "pending", "Result pending"
    REFUSED = "refused", "Refused"


class DatePrecision(CodeList):
    """How exactly a date is known. To the month or year, the first day of it is stored."""

    DAY = "day", "To the day"
    MONTH = "month", "To the month"
    YEAR = "year", "To the year"


class InformationSource(CodeList):
    """Where a fact about a patient came from."""

    RECORD = "record", "This hospital's record"
    OTHER_HOSPITAL = "other_hospital", "Letter or record of another hospital"
    FAMILY_DOCTOR = "family_doctor", "Family doctor"
    PATIENT = "patient", "The patient"
    RELATIVE = "relative", "A relative or carer"
    DEATH_REGISTER = "death_register", "Register of deaths"
    ESTIMATED = "estimated", "Estimated"


class Place(CodeList):
    """Here or elsewhere."""

    HERE = "here", "This unit"
    ELSEWHERE = "elsewhere", "Elsewhere"


class Severity(CodeList):
    """None to severe."""

    NONE = "none", "None"
    MILD = "mild", "Mild"
    MODERATE = "moderate", "Moderate"
    SEVERE = "severe", "Severe"


class Timing(CodeList):
    """Before or after the operation."""

    BEFORE = "before", "Before the operation"
    DURING = "during", "During the operation"
    AFTER = "after", "After the operation"


class Currency(CodeList):
    """Currency of an amount.

    Source: ISO 4217 alphabetic codes
    """

    EUR = "EUR", "Euro"
    GBP = "GBP", "Pound sterling"
    USD = "USD", "US dollar"
    CHF = "CHF", "Swiss franc"
    SEK = "SEK", "Swedish krona"
    NOK = "NOK", "Norwegian krone"
    DKK = "DKK", "Danish krone"
    PLN = "PLN", "Zloty"
    CZK = "CZK", "Czech koruna"
    INR = "INR", "Indian rupee"
    CNY = "CNY", "Yuan"
    JPY = "JPY", "Yen"
    AUD = "AUD", "Australian dollar"
    NZD = "NZD", "New Zealand dollar"
    CAD = "CAD", "Canadian dollar"
    BRL = "BRL", "Brazilian real"
    TRY = "TRY", "Turkish lira"
    ZAR = "ZAR", "Rand"
