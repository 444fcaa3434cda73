"""Codes of verdicts: how a check came out, of what, and why. The values are what tables hold."""

from __future__ import annotations

from enum import StrEnum


class Outcome(StrEnum):
    """How a check came out; unknown is never a pass."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_ASSESSED = "not assessed"


class Aspect(StrEnum):
    """What a check looks for: a problem, whose failure is a flag, or a remedy, whose failure means none was found."""

    PROBLEM = "problem"
    REMEDY = "remedy"


class Operator(StrEnum):
    """How a value is compared with its threshold where the check passes."""

    AT_MOST = "<="
    AT_LEAST = ">="
    BELOW = "<"
    EQUAL = "=="


class SubjectKind(StrEnum):
    """What a verdict is about."""

    LOT = "lot"
    STRUCTURE = "structure"
    DRIVEWAY = "driveway"
    STORAGE = "storage"
    INTERCEPTION_LINE = "interception line"


class Confidence(StrEnum):
    """Whether a finding holds under elevation error."""

    HOLDS = "holds"
    WITHIN_ERROR = "within elevation error"
    MADE_BY_ERROR = "within elevation error, made by it"
    """It holds, but the error alone makes one like it too often."""
    NOT_ASSESSED = "not assessed"

    @property
    def is_within_error(self) -> bool:
        """True where the finding may be no more than the error of the elevation."""
        return self in (Confidence.WITHIN_ERROR, Confidence.MADE_BY_ERROR)


class VerdictReason(StrEnum):
    """Why a check could not be made, or what to know beside its outcome."""

    LAYER_NOT_GIVEN = "layer not given"
    NO_ELEVATION = "no elevation"
    EXPOSURE_NOT_ASSESSED = "exposure not assessed"
    EDGE_CUT = "cut by the edge"
    FROM_BEYOND = "from beyond the window"
    MOST_AT_SIDE = "most at a side"
    DEEPEST_AT_SIDE = "deepest at a side"
    FALL_NOT_MEASURED = "fall not measured"
    INSIDE_ERROR = "inside the two-point error"
    BEYOND_ERROR = "beyond the two-point error"
    RULES_LIMIT = "limited by rules"
    TESTS_OWED = "tests owed"


class MainFinding(StrEnum):
    """What the main finding of a lot is."""

    NO_ELEVATION = "no elevation"
    CHECK = "check"
    """The weightiest failed check for a problem."""
    CHECK_WALLS_CLEAR = "check, walls clear"
    """That of the lot itself, where nothing that stands on it is flagged."""
    LOW_SPOT = "low spot"
    NOTHING = "nothing"


class Doubt(StrEnum):
    """What keeps a main finding from being certain; a summary row holds none, one or both, joined by `DOUBTS_JOIN`."""

    NOT_ASSESSED = "not assessed"
    WITHIN_ERROR = "within error"


DOUBTS_JOIN = ", "
"""Between the doubts of a row."""
