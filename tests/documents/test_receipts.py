"""The receipt that deliverer and receiver both sign."""

import pytest

from registry.documents.receipts import Receipt, ReceivedContainer, receipt_pdf
from tests.documents.papers import AT, AT_UTC, ELECTION, numbers, text_of


def container(number, **changes):
    facts = {
        "number": number,
        "noun": "Envelope",
        "content_title": "Poll slips",
        "station": "017A",
        "seals": ("wax, die 12-A", "paper 004417, signed"),
        "condition": "sound",
        "count": 812,
    }
    return ReceivedContainer(**(facts | changes))


def receipt(*containers, **changes):
    facts = {
        "number": "IN-000014-5",
        "election": ELECTION,
        "constituency": "12 Quillmoor",
        "room": "Customs House strong room",
        "delivered_by": "T. Fell, presiding officer",
        "delivered_for": "Returning Officer, 12 Quillmoor",
        "received_by": "R. Alder, custodian",
        "received_at": AT,
        "containers": containers,
        "made_at": AT_UTC,
        "made_by": "R. Alder",
    }
    return Receipt(**(facts | changes))


def printed(*containers, **changes):
    return text_of(receipt_pdf(receipt(*containers, **changes)))


def test_the_receipt_says_who_brought_what_to_whom_and_when():
    text = printed(container("EN-000121-4"))
    for words in (
        "IN-000014-5",
        "Received at 5 March 2026, 14:05 (UTC+05:30)",
        "Delivered by T. Fell, presiding officer",
        "On behalf of Returning Officer, 12 Quillmoor",
        "Received by R. Alder, custodian",
        "Customs House strong room",
        "Made 5 March 2026, 08:35 (UTC) by R. Alder",
        "page 1 of 1",
    ):
        assert words in text


def test_each_container_stands_with_its_seals_condition_and_count():
    text = printed(container("EN-000121-4"))
    assert (
        "EN-000121-4 Envelope Poll slips 017A wax, die 12-A paper 004417, signed "
        "sound 812"
    ) in text


def test_the_totals_are_by_sort_and_own_up_to_missing_counts():
    first, second, third, fourth = numbers("EN", 4)
    text = printed(
        container(first, count=100),
        container(second, count=None),
        container(third, content_title="Mock-poll slips", count=50),
        container(fourth, count=7),
    )
    assert "Envelope, Mock-poll slips 1 50 0" in text
    assert "Envelope, Poll slips 3 107 1" in text
    assert "All containers 4 157 1" in text


def test_a_container_without_seal_or_count_is_received_all_the_same():
    text = printed(container("EN-000121-4", seals=(), count=None, station=""))
    assert "none stated none sound none stated" in text


def test_quarantine_and_what_is_open_stand_on_the_receipt():
    point = "control unit differs: 0042917 written, 0042971 expected"
    text = printed(container("EN-000121-4", quarantined=True, open_points=(point,)))
    assert "In quarantine" in text
    assert "Open: control unit differs" in text
    assert "1 container stands in quarantine" in text


def test_both_sides_have_a_line_to_sign():
    text = printed(container("EN-000121-4"))
    assert "Delivered by: T. Fell, presiding officer" in text
    assert "Received by: R. Alder, custodian" in text
    assert text.count("Name, signature, date and time") == 2


def test_the_receipt_warns_of_lifting():
    text = printed(container("EN-000121-4"))
    assert "Over your local limit, two people lift" in text


def test_an_empty_receipt_is_refused():
    with pytest.raises(ValueError, match="nothing came in"):
        receipt_pdf(receipt())
