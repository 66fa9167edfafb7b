"""Bytes that say whether they are whole, and whose: what one build keeps for the next may be cut short, changed on
disk, or put under the name of something else."""

import hashlib

_SIZE = 64


def sealed(content: bytes, name: str) -> bytes:
    """The content behind the SHA-256, in hexadecimal digits and a line feed, of its name and itself."""
    found = hashlib.sha256(name.encode("utf-8", "surrogatepass") + b"\n")
    found.update(content)
    return found.hexdigest().encode() + b"\n" + content


def unsealed(data: bytes, name: str) -> bytes | None:
    """The content of what `sealed` gave for a name; None when it is not whole, or another's.

    >>> unsealed(sealed(b"abc", "x"), "x"), unsealed(sealed(b"abc", "x")[:-1], "x"), unsealed(sealed(b"abc", "x"), "y")
    (b'abc', None, None)
    """
    content = data[_SIZE + 1 :]
    return content if sealed(content, name) == data else None
