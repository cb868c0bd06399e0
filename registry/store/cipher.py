"""Encryption of identifying values and free wording, each under the key of its own patient.

AES-GCM with a fresh nonce for each value; "table.column" is authenticated with it, so that a value cannot be moved
to another field. The stored text names the owner of its key, so that a value stays readable wherever it stands (in
the row or in an image in the history) for as long as that patient's key exists, and no longer.
"""

from __future__ import annotations

import base64
import hmac
import os
import re
from collections.abc import Callable, Collection, Iterable

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from sqlalchemy import Connection, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.keys import Keys

ERASED = "(erased)"
"""What is read in place of a value whose patient's key was erased."""

REGISTRY = 0
"""Owner of the wording that belongs to no patient."""

_VALUE, _KEY = "enc1:", "key1:"
_NONCE, _OWNER = 12, 8
_MANY = 500

WrappedKeys = Callable[[Collection[int] | None], Iterable[tuple[int, str | None]]]
"""Gives (patient id, wrapped key or None when erased) of the patients asked for; None asks for all."""


class Cipher:
    """Encrypts and decrypts within one transaction; keys are unwrapped when first needed and forgotten with it."""

    def __init__(self, keys: Keys, wrapped_keys: WrappedKeys) -> None:
        self._keys = keys
        self._wrapping = AESGCM(keys.wrapping)
        self._wrapped_keys = wrapped_keys
        self._opened: dict[int, AESGCM | None] = {REGISTRY: AESGCM(keys.own)}

    def new_key(self, patient_id: int) -> str:
        """Make a patient's own key, know it from now on, and give it wrapped, as it is stored."""
        key, nonce = AESGCM.generate_key(256), os.urandom(_NONCE)
        self._opened[patient_id] = AESGCM(key)
        wrapped = self._wrapping.encrypt(nonce, key, _wrap_context(patient_id))
        return _KEY + base64.b64encode(nonce + wrapped).decode()

    def forget(self, patient_id: int) -> None:
        """Treat a patient's key as erased from now on."""
        self._opened[patient_id] = None

    def holds(self, owner: int) -> bool:
        """The owner's key is there and not erased."""
        self.ready([owner])
        return self._opened[owner] is not None

    def ready(self, owners: Collection[int]) -> None:
        """Unwrap the keys of several owners at once."""
        wanted = {owner for owner in owners if owner not in self._opened}
        if not wanted:
            return
        for patient_id, wrapped in self._wrapped_keys(wanted if len(wanted) <= _MANY else None):
            if patient_id in wanted:
                self._opened[patient_id] = self._unwrap(patient_id, wrapped)
        for owner in wanted:
            self._opened.setdefault(owner, None)  # no row is left of a withdrawn patient's key

    def encrypt(self, owner: int, clear: str, table: str, column: str) -> str:
        """Encrypt one value under its owner's key.

        Args:
            owner: patient id, or ``REGISTRY``.
            clear: the value as typed.
            table: the table it is stored in.
            column: the column it is stored in.

        Raises:
            GravelbookError: the owner's key was erased.
        """
        if owner not in self._opened:
            self.ready([owner])
        key = self._opened[owner]
        if key is None:
            raise GravelbookError(
                f"{table}.{column}: this patient's identity and free wording were erased, so nothing can be added to "
                "them. Leave the field blank."
            )
        nonce = os.urandom(_NONCE)
        sealed = key.encrypt(nonce, clear.encode(), f"{table}.{column}".encode())
        return _VALUE + base64.b64encode(owner.to_bytes(_OWNER) + nonce + sealed).decode()

    def decrypt(self, stored: str, table: str, column: str) -> str:
        """The clear value, or "(erased)".

        Raises:
            GravelbookError: the stored text is no ciphertext of this field, or was changed.
        """
        try:
            raw = _opened_text(stored)
            owner = int.from_bytes(raw[:_OWNER])
            if owner not in self._opened:
                self.ready([owner])
            key = self._opened[owner]
            if key is None:
                return ERASED
            nonce, sealed = raw[_OWNER : _OWNER + _NONCE], raw[_OWNER + _NONCE :]
            return key.decrypt(nonce, sealed, f"{table}.{column}".encode()).decode()
        except (InvalidTag, ValueError) as fault:
            raise GravelbookError(
                f"An encrypted value in {table}.{column} cannot be read: it was changed outside this program, or "
                "belongs to another registry. Find the row with: gravelbook store verify"
            ) from fault

    def _unwrap(self, patient_id: int, wrapped: str | None) -> AESGCM | None:
        if wrapped is None:
            return None
        try:
            raw = base64.b64decode(wrapped.removeprefix(_KEY), validate=True)
            return AESGCM(self._wrapping.decrypt(raw[:_NONCE], raw[_NONCE:], _wrap_context(patient_id)))
        except (InvalidTag, ValueError) as fault:
            raise GravelbookError(
                f"The key of patient {patient_id} cannot be unwrapped: patient_key was changed outside this program. "
                "See what was changed with: gravelbook store verify"
            ) from fault


def owner_of_text(stored: str) -> int:
    """Whose key a stored value is encrypted under: a patient id, or ``REGISTRY``.

    Raises:
        ValueError: it is no ciphertext.
    """
    return int.from_bytes(_opened_text(stored)[:_OWNER])


def bare_number(number: str) -> str:
    """A number without case, spaces and hyphens: two spellings of one number are one number."""
    return re.sub(r"[\s\-\u2010-\u2015]+", "", number).casefold()


def keyed_index(keys: Keys, number: str) -> str:
    """The index by which an exact number is found: HMAC-SHA-256 of the bare number."""
    return hmac.digest(keys.index, bare_number(number).encode(), "sha256").hex()


def wrapped_keys_in(connection: Connection) -> WrappedKeys:
    """The wrapped keys as one connection sees them."""
    keys = metadata.tables["patient_key"].c

    def wrapped(owners: Collection[int] | None) -> Iterable[tuple[int, str | None]]:
        query = select(keys.patient_id, keys.wrapped_key)
        if owners is not None:
            query = query.where(keys.patient_id.in_(owners))
        return [(row.patient_id, row.wrapped_key) for row in connection.execute(query)]

    return wrapped


def _opened_text(stored: str) -> bytes:
    if not stored.startswith(_VALUE):
        raise ValueError("no ciphertext")
    return base64.b64decode(stored[len(_VALUE) :], validate=True)


def _wrap_context(patient_id: int) -> bytes:
    return f"patient_key.wrapped_key:{patient_id}".encode()
