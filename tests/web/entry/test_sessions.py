"""Sessions end, and what they are known by cannot be had from them; tries are counted by address."""

from __future__ import annotations

import pytest

from photomeasure.web.entry.limits import Rate, who_of
from photomeasure.web.entry.sessions import IDLE_S, LONGEST_S, MOST, Sessions


class Clock:
    now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


def test_a_session_lasts_while_it_is_used_and_no_longer() -> None:
    clock = Clock()
    sessions = Sessions(clock)
    word = sessions.begin("first")
    opened = sessions.of(word, "first")
    assert opened is not None and sessions.of(word, "first") is opened
    assert sessions.of(word + "x", "first") is None and sessions.of("", "first") is None
    for _ in range(int(LONGEST_S / IDLE_S)):
        clock.now_s += 0.99 * IDLE_S
        assert sessions.of(word, "first") is opened
    clock.now_s += 0.99 * IDLE_S
    assert sessions.of(word, "first") is None  # however often it is used
    idle = sessions.begin("first")
    clock.now_s += IDLE_S + 1.0
    assert sessions.of(idle, "first") is None


def test_it_ends_with_the_password_and_by_signing_out() -> None:
    sessions = Sessions()
    one, other = sessions.begin("first"), sessions.begin("first")
    assert one != other and sessions.of(one, "second") is None and sessions.of(one, "first") is None
    sessions.end(other)
    assert sessions.of(other, "first") is None


def test_there_are_only_so_many() -> None:
    sessions = Sessions()
    words = [sessions.begin("") for _ in range(MOST + 3)]
    assert [sessions.of(word, "") is None for word in (words[0], words[2], words[3], words[-1])] == [
        True,
        True,
        False,
        False,
    ]


def test_some_tries_at_once_then_one_after_the_other() -> None:
    clock = Clock()
    rate = Rate(3, 10.0, clock)
    assert [rate.take("a") for _ in range(4)] == [0.0, 0.0, 0.0, 10.0]
    assert rate.take("b") == 0.0  # others are not held up
    clock.now_s += 4.0
    assert rate.wait_s("a") == pytest.approx(6.0) and rate.take("a") == pytest.approx(6.0)
    clock.now_s += 6.0
    assert rate.take("a") == 0.0 and rate.take("a") > 0.0
    rate.give_back("a")
    assert rate.take("a") == 0.0
    clock.now_s += 1000.0
    assert [rate.take("a") > 0.0 for _ in range(4)] == [False, False, False, True]  # never more than at the start


@pytest.mark.parametrize(
    ("address", "who"),
    [
        ("203.0.113.7", "203.0.113.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::99", "2001:db8:1:2::/64"),
        ("::ffff:203.0.113.7", "203.0.113.7"),
        ("fe80::1%eth0", "fe80::/64"),
        ("127.0.0.1", ""),
        ("::1", ""),
        ("unix", "unix"),
    ],
)
def test_whose_tries_are_counted_together(address: str, who: str) -> None:
    """Addresses for documentation: RFC 5737, RFC 3849."""
    assert who_of((address, 1), known=True) == who and who_of((address, 1), known=False) == ""
