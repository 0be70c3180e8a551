"""The queue of notices: bounded, in order, an address that fails left alone for growing times."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from filmhand.notices.addresses import Address
from filmhand.notices.outbox import FIRST_S, KEPT_S, LONGEST_S, MOST_LETTERS, Notice, Outbox

DEAD, LIVE = Address("json://dead"), Address("json://live")


def _notice(number: int) -> Notice:
    return Notice(f"n{number}", "words")


def test_pauses_grow_to_an_hour_and_end_with_success() -> None:
    """Twice as long each time; one letter that arrives forgets them."""
    box, _ = Outbox().put(_notice(1), [DEAD], now=0.0)
    now, waits = 0.0, []
    for _ in range(12):
        letter = box.due(now=now)
        assert letter is not None
        box, rest = box.failed(letter, now=now)
        assert box.due(now=rest.until - 0.01) is None
        assert box.next_due() == rest.until
        waits.append(rest.until - now)
        now = rest.until
    assert waits[0] == FIRST_S
    assert all(later == min(2 * sooner, LONGEST_S) for sooner, later in pairwise(waits))
    letter = box.due(now=now)
    assert letter is not None
    assert box.sent(letter) == Outbox()


def test_a_dead_address_does_not_keep_the_others_waiting() -> None:
    """What goes to the live one is sent in order; the dead one's letters stay in order too."""
    box = Outbox()
    for number in range(3):
        box, _ = box.put(_notice(number), [DEAD, LIVE], now=0.0)
    first = box.due(now=0.0)
    assert first is not None and first.address == DEAD
    box, _ = box.failed(first, now=0.0)
    sent = []
    while (letter := box.due(now=1.0)) is not None:
        sent.append((letter.address, letter.notice.title))
        box = box.sent(letter)
    assert sent == [(LIVE, "n0"), (LIVE, "n1"), (LIVE, "n2")]
    assert [letter.notice.title for letter in box.letters] == ["n0", "n1", "n2"]


@given(st.lists(st.sampled_from(["put", "fail", "send"]), max_size=60), st.integers(1, 90))
def test_it_is_bounded(acts: list[str], addresses: int) -> None:
    """Whatever happens, no more letters wait than there may; what goes is counted, and is the oldest."""
    to = [Address(f"json://a{number}") for number in range(addresses)]
    box, now, put, lost, sent = Outbox(), 0.0, 0, 0, 0
    for number, act in enumerate(acts):
        now += 40.0
        letter = box.due(now=now)
        if act == "put":
            box, gone = box.put(_notice(number), to, now=now)
            put, lost = put + addresses, lost + gone
        elif letter is not None and act == "fail":
            box, _ = box.failed(letter, now=now)
        elif letter is not None:
            box, sent = box.sent(letter), sent + 1
        assert len(box.letters) == put - lost - sent <= MOST_LETTERS
        assert all(older.posted <= newer.posted for older, newer in pairwise(box.letters))


def test_what_nobody_took_for_a_day_is_given_up() -> None:
    """Only that."""
    box, _ = Outbox().put(_notice(1), [DEAD], now=0.0)
    box, _ = box.put(_notice(2), [DEAD], now=KEPT_S)
    box, old = box.without_old(now=KEPT_S + 1)
    assert [letter.notice.title for letter in old] == ["n1"]
    assert [letter.notice.title for letter in box.letters] == ["n2"]
