"""The stock account of rooms agrees with a count of the rows, for any period.

F35 of this project's list of features; GFR 213 (yearly verification of stock), named
there, is common practice in stores.
"""

import csv
from datetime import timedelta

import pytest

from registry.models import Box, Envelope
from registry.rules.powers import Power
from registry.rules.stock import Flow
from registry.usecases import Mistaken, NotThere, boxes, custody
from registry.usecases.stock_accounts import (
    AccountWanted,
    account_for_stock,
    export_stock_account,
)
from tests import given

pytestmark = pytest.mark.django_db

ENDED = ("disposed", "superseded")


@pytest.fixture
def scene():
    return given.a_scene()


def the_account(scene, at=given.NOW, who="custodian", **wanted):
    return account_for_stock(
        wanted=AccountWanted(**wanted), actor=getattr(scene.cast, who), at=at
    )


def rows_counted():
    return sum(
        model.objects.exclude(state__in=ENDED).count() for model in (Box, Envelope)
    )


def test_what_was_received_is_the_closing_stock(scene):
    given.a_shelved_box(scene)
    given.logged(scene, given.an_open_box(stations="002"))
    account = the_account(scene)
    assert (account.opening, account.total(Flow.RECEIVED)) == (0, 3)
    assert account.closing == rows_counted() == 3
    assert account.agrees
    assert [(row.noun, row.line.closing) for row in account.rows] == [
        ("box", 2),
        ("envelope", 1),
    ]


def test_what_is_disposed_of_goes_and_stays_gone(scene):
    box = given.a_shelved_box(scene)
    later = given.NOW + timedelta(days=1)
    given.a_checked_seal(scene, box.number, at=later)
    given.a_confirmation(scene, at=later)
    permission = given.a_permission(scene, [box.number], at=later)
    given.disposed_of(scene, box.number, permission, at=later)
    on = later.date()
    account = the_account(scene, at=later, first_day=on, last_day=on)
    assert account.opening == 2
    assert account.total(Flow.DISPOSED) == 2
    assert account.closing == rows_counted() == 0
    assert account.agrees
    before = the_account(scene, at=later, last_day=given.TODAY)
    assert before.closing == 2
    assert before.agrees


def test_one_period_begins_where_the_other_ends(scene):
    given.a_shelved_box(scene)
    later = given.NOW + timedelta(days=3)
    given.logged(scene, given.an_open_box(stations="002"), at=later)
    first = the_account(scene, at=later, last_day=given.TODAY)
    second = the_account(scene, at=later, first_day=given.TODAY + timedelta(days=1))
    whole = the_account(scene, at=later)
    assert second.opening == first.closing == 2
    assert second.closing == whole.closing == rows_counted() == 3


def test_what_is_not_found_remains_stock_and_is_named(scene):
    box = given.a_shelved_box(scene)
    custody.report_not_found(
        container=box.number,
        note="Bay A walked twice.",
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    row = next(row for row in the_account(scene).rows if row.noun == "box")
    assert (row.line.closing, row.line.away) == (1, {"missing": 1})


def test_moving_within_the_room_changes_nothing(scene):
    box = given.a_shelved_box(scene)
    before = the_account(scene)
    boxes.shelve_box(
        box=box.number,
        shelf=scene.shelves[1],
        actor=scene.cast.custodian,
        at=given.NOW,
    )
    assert the_account(scene).rows == before.rows


def test_it_is_narrowed_to_a_room_and_to_what_one_may_see(scene):
    given.a_shelved_box(scene)
    assert the_account(scene, who="auditor", room=scene.other_room).rows == ()
    assert the_account(scene, who="auditor", room=scene.room).closing == 2
    assert the_account(scene, who="legal").closing == 2
    with pytest.raises(NotThere):
        the_account(scene, room=scene.other_room)
    stranger = given.appointed(
        scene.cast.administrator, "lars.law", scene.cast.legal.role
    )
    assert not stranger.elections
    assert stranger.may(Power.REPORT)
    assert account_for_stock(
        wanted=AccountWanted(), actor=stranger, at=given.NOW
    ).rows == ()  # fmt: skip


@pytest.mark.parametrize(
    ("wanted", "field"),
    [
        ({"last_day": given.TODAY + timedelta(days=1)}, "last_day"),
        ({"first_day": given.TODAY, "last_day": given.POLLED}, "first_day"),
        ({"first_day": given.TODAY.replace(year=26)}, "first_day"),
    ],
)
def test_days_that_make_no_period_are_told(scene, wanted, field):
    with pytest.raises(Mistaken) as told:
        the_account(scene, **wanted)
    assert field in told.value.errors


def test_the_file_says_what_the_page_says(scene):
    given.a_shelved_box(scene)
    paper = export_stock_account(
        wanted=AccountWanted(), actor=scene.cast.auditor, at=given.NOW
    )
    rows = list(csv.DictReader(paper.content.decode("utf-8-sig").splitlines()))
    assert [(row["noun"], row["received"], row["closing"]) for row in rows] == [
        ("box", "1", "1"),
        ("envelope", "1", "1"),
    ]
    assert all(row["closing"] == row["counted"] for row in rows)
