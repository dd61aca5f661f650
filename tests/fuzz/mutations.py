"""What happens to files: parts lost, doubled, overwritten by what parsers do not expect."""

from __future__ import annotations

from collections.abc import Sequence

NASTY: tuple[bytes, ...] = (
    b"", b"\x00", b"\x1b[31m", b"\r", b"\n", b'"', b"'", b",", b";", b"[", b"]", b"{", b"}", b"<", b"&", b"#", b"=", b"-", b"0",
    b"-0", b"1e400", b"-1e400", b"1e-400", b"nan", b"NaN", b"Infinity", b"inf", b".Inf", b"9" * 5000, b"0." + b"1" * 5000,
    b"[" * 100_000, b"{\"a\":" * 50_000, b"<a>" * 50_000, b"a." * 3000, b"[a.", b"n" * 300, b"../" * 2000, b"\xff\xfe", b"\xe9",
    "\u202e".encode(), "\U0001f69a".encode(), b"null", b"true", b"[]", b"{}", b'""', b"2147483648", b"-1", b"99999999999999999999",
    b"1970-01-01", b"0x10", b"1_000", b"%n%s", b"=1+1", b"!!python/object:os.system", b"\xef\xbb\xbf",
)  # fmt: skip

# kind (0 put in, 1 overwrite, 2 delete, 3 double), where (share of the length), how many bytes, which nasty thing
Change = tuple[int, float, int, int]


def changed(good: bytes, changes: Sequence[Change]) -> bytes:
    """The file after all changes, one after the other."""
    data = good
    for kind, share, count, which in changes:
        at = int(share * len(data))
        if kind == 0:
            data = data[:at] + NASTY[which % len(NASTY)] + data[at:]
        elif kind == 1:
            data = data[:at] + NASTY[which % len(NASTY)] + data[_value_end(data, at) :]
        elif kind == 2:
            data = data[:at] + data[at + count :]
        else:
            data = data[:at] + data[at : at + count] + data[at:]
    return data


def _value_end(data: bytes, at: int) -> int:
    """Where the value that stands there ends: at the next sign that parts values."""
    ends = [found for sign in b",\n]}<;" if (found := data.find(bytes([sign]), at)) >= 0]
    return min(ends, default=len(data))
