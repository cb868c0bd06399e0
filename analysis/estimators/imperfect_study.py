"""How often a kind of imperfect study overlooks what is there, estimated from what such studies show.

Such a study can show that something is there and never that nothing is. How often it overlooks it is not recorded; it
follows from how much such studies show, set against how much there is by a model learnt from better ones.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]
MOST_ROUNDS = 1000
NEAR_ENOUGH = 1e-7


class ImperfectKind:
    """Rows studied by one kind of imperfect study.

    A row that was shown something (lowest class 1 or more) has the class it was shown, which may be a range: what such
    a study shows is taken to be the largest that is there. A row that was shown nothing has no class above 0 unless it
    was overlooked, whose chance is the same for every class that this kind can overlook. That chance is the maximum
    likelihood one given the model's chances, found by expectation and maximisation (Dempster AP, Laird NM, Rubin DB,
    J R Stat Soc B 1977;39:1-38 [from memory]), and 0 where the kind shows as much as the model expects, or more.
    """

    def __init__(self, chances: FloatArray, lowest: IntArray, highest: IntArray, shown_highest: IntArray) -> None:
        """Of this kind's rows: chances of each class by the fitted model, shape (rows, classes); lowest and highest
        class left possible, and the highest that what was shown may be, shape (rows,)."""
        place = np.arange(chances.shape[1])[None, :]
        blank = (lowest == 0)[:, None]
        self.possible = (place >= lowest[:, None]) & (place <= highest[:, None])
        self.hidden = blank & self.possible & (place > shown_highest[:, None])
        self.shown = self.possible & (place <= shown_highest[:, None])
        can_hide = self.hidden.any(axis=0)
        self.seen = float((~blank[:, 0] & can_hide[lowest]).sum())
        self.overlooked = self._expected(chances)

    def weights(self, chances: FloatArray, generator: np.random.Generator) -> FloatArray:
        """Weight of each class of each row, shape as chances, which are of the model as drawn; the chance of being
        overlooked is drawn too (beta, from the counts seen and expected to be overlooked)."""
        hide, show = generator.standard_gamma([max(self.overlooked, 1e-9), max(self.seen, 1e-9)])
        return self._weights(chances, hide / (hide + show) if hide + show > 0 else 0.0)

    def _weights(self, chances: FloatArray, overlooks: float) -> FloatArray:
        made = np.where(self.shown, chances, 0.0) + np.where(self.hidden, chances * overlooks, 0.0)
        none = ~(made.sum(axis=1, keepdims=True) > 0)
        return np.where(none & self.possible, chances, made)

    def _expected(self, chances: FloatArray) -> float:
        """How many rows are expected to have been overlooked."""
        expected, overlooks = 0.0, 0.5
        for _ in range(MOST_ROUNDS):
            made = self._weights(chances, overlooks)
            expected = float((np.where(self.hidden, made, 0.0).sum(axis=1) / made.sum(axis=1)).sum())
            before, overlooks = overlooks, expected / max(expected + self.seen, 1e-300)
            if abs(overlooks - before) < NEAR_ENOUGH:
                break
        return expected
