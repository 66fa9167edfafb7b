"""Bytes that say whether they are whole: what one build keeps for the next may be cut short or changed on disk."""

import hashlib

_SIZE = 64


def sealed(content: bytes) -> bytes:
    """The content behind its SHA-256 in hexadecimal digits and a line feed."""
    return hashlib.sha256(content).hexdigest().encode() + b"\n" + content


def unsealed(data: bytes) -> bytes | None:
    """The content of what `sealed` gave; None when it is not whole.

    >>> unsealed(sealed(b"abc")), unsealed(sealed(b"abc")[:-1]), unsealed(b"abc")
    (b'abc', None, None)
    """
    content = data[_SIZE + 1 :]
    return content if sealed(content) == data else None
