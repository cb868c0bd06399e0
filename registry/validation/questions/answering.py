"""Gives a question an owner, an answer, or the word that what is recorded stands."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import QuestionState
from registry.schema.tables import metadata
from registry.store.door import Door

if TYPE_CHECKING:
    from registry.store.registry import Registry


def assign(registry: Registry, question: int, owner: str, *, by: str) -> None:
    """Say who is asked.

    Args:
        registry: the open registry.
        question: the question's number.
        owner: who is asked: a code or an account name.
        by: who says so.

    Raises:
        GravelbookError: there is no such question, it is closed, or the owner cannot be kept.
    """
    with registry.writing(by=by, reason="question given to someone") as door:
        held = _open_question(door, question)
        door.update("question", question, {"asked_of": owner.strip() or None}, revision=held["revision"])


def answer(registry: Registry, question: int, text: str, *, by: str) -> None:
    """Answer a question. It closes by itself when the data are mended.

    Args:
        registry: the open registry.
        question: the question's number.
        text: the answer, kept encrypted.
        by: who answers.

    Raises:
        GravelbookError: there is no such question, it is closed, or the answer is empty or cannot be kept.
    """
    _settle(registry, question, QuestionState.ANSWERED, text, "Say what the answer is.", by=by)


def stands(registry: Registry, question: int, reason: str, *, by: str) -> None:
    """Say that what is recorded is right as it stands; it is not asked about again while those values stay.

    Args:
        registry: the open registry.
        question: the question's number.
        reason: why it is right, kept encrypted.
        by: who says so.

    Raises:
        GravelbookError: there is no such question, it is closed, or the reason is empty or cannot be kept.
    """
    _settle(registry, question, QuestionState.STANDS, reason, "Say why it stands as recorded.", by=by)


def _settle(registry: Registry, question: int, state: QuestionState, text: str, needed: str, *, by: str) -> None:
    if not text.strip():
        raise GravelbookError(f"Question {question}: the wording is empty. {needed}")
    with registry.writing(by=by, reason=f"question {state.label.lower()}") as door:
        held = _open_question(door, question)
        values = {"state": state, "answer": text, "answered_by": by, "answered_at": dt.datetime.now(dt.UTC)}
        door.update("question", question, values, revision=held["revision"])


def _open_question(door: Door, question: int) -> dict[str, Any]:
    table = metadata.tables["question"]
    held = door.connection.execute(select(table).where(table.c.id == question)).mappings().one_or_none()
    if held is None:
        raise GravelbookError(
            f"There is no question {question}. See their numbers with: gravelbook quality questions list"
        )
    if held["state"] == QuestionState.MENDED:
        raise GravelbookError(
            f"Question {question} is closed: the data were mended. If something is still wrong, run: gravelbook "
            "quality questions ask"
        )
    return dict(held)
