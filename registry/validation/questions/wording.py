"""How a question is kept in its encrypted note: the sentence, and a digest of the values that the rule saw.

By the digest a question that was answered "stands as recorded" stays quiet for as long as those values stay.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

_MARK = "sentence"
_LONGEST = 3500


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as it was asked; without ``seen`` when a person asked it in own words."""

    sentence: str
    seen: str | None = None


def kept(asked: Asked) -> str:
    """A question as it is kept."""
    sentence = asked.sentence if len(asked.sentence) <= _LONGEST else asked.sentence[:_LONGEST] + "..."
    return json.dumps({_MARK: sentence, "seen": asked.seen}, ensure_ascii=False)


def read(wording: str | None) -> Asked:
    """A question as it was kept, or a person's own wording."""
    try:
        held = json.loads(wording or "")
    except ValueError:
        return Asked(wording or "")
    if isinstance(held, dict) and _MARK in held:
        return Asked(str(held[_MARK]), held.get("seen"))
    return Asked(wording or "")


def digest(*values: Any) -> str:
    """A digest of the values that a rule saw."""
    return hashlib.blake2b(json.dumps(values, default=str).encode(), digest_size=16).hexdigest()
