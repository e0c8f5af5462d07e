"""The names book: real names beside the record, encrypted; never in the database.

A JSON object {pseudonym: name}, encrypted with a key that a passphrase gives (scrypt; Percival 2009). Whoever loses the
passphrase loses the names and nothing else.
"""

from __future__ import annotations

import base64
import json
import secrets
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import RecordError
from ..write.files import whole_file

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

_HEAD = b"in-the-round names 1\n"
#: Cost of the key: 0.2 s and 64 MB for every guess.
_COST, _BLOCK, _LANES = 2**16, 8, 1
_SALT_BYTES = 16
#: Proposed default: a short passphrase is guessed in an afternoon.
SHORTEST_PASSPHRASE = 10


@dataclass
class NamesBook:
    """An open names book; ``write`` keeps it."""

    path: Path
    passphrase: str
    names: dict[str, str] = field(default_factory=dict)

    def pseudonym_of(self, name: str) -> str | None:
        """Whose name this is, letters in either case; None when it is not in the book."""
        wanted = name.strip().casefold()
        return next((pseudonym for pseudonym, known in self.names.items() if known.casefold() == wanted), None)

    def write(self) -> None:
        """Write the book whole, with a new salt; an empty one is deleted."""
        if not self.names:
            self.path.unlink(missing_ok=True)
            return
        salt = secrets.token_bytes(_SALT_BYTES)
        plain = json.dumps(self.names, ensure_ascii=False).encode()
        with whole_file(self.path, overwrite=True) as temporary:
            temporary.write_bytes(_HEAD + salt + _cipher(self.passphrase, salt, self.path).encrypt(plain))
        self.path.chmod(0o600)


def _cipher(passphrase: str, salt: bytes, path: Path) -> Fernet:
    try:
        from cryptography.fernet import Fernet
        from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
    except ImportError as error:
        raise RecordError(f"{path} cannot be opened here: real names are used from the command line only.") from error
    key = Scrypt(salt=salt, length=32, n=_COST, r=_BLOCK, p=_LANES).derive(passphrase.encode())
    return Fernet(base64.urlsafe_b64encode(key))


def open_names(path: Path, passphrase: str) -> NamesBook:
    """Open the names book, or begin one. Raises RecordError for a wrong or short passphrase and for a damaged book."""
    if not path.exists():
        if len(passphrase) < SHORTEST_PASSPHRASE:
            raise RecordError(f"The passphrase must have at least {SHORTEST_PASSPHRASE} letters: three random words are good.")
        return NamesBook(path, passphrase)
    data = path.read_bytes()
    if not data.startswith(_HEAD):
        raise RecordError(f"{path} is no names book, or a damaged one. The record itself can be used without it, by pseudonyms.")
    salt = data[len(_HEAD) : len(_HEAD) + _SALT_BYTES]
    from cryptography.fernet import InvalidToken

    try:
        plain = _cipher(passphrase, salt, path).decrypt(data[len(_HEAD) + _SALT_BYTES :])
    except InvalidToken as error:
        raise RecordError(f"The passphrase does not open {path}. Without it the record can be used by pseudonyms.") from error
    return NamesBook(path, passphrase, json.loads(plain))
