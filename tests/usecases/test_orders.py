"""Orders to preserve, and confirmations of the court's registry."""

from datetime import timedelta

import pytest

from registry.models import NoPetitionConfirmation, PreservationOrder
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused
from registry.usecases.cases import Covers
from registry.usecases.confirmations import record_confirmation, withdraw_confirmation
from registry.usecases.preservation import (
    enter_preservation_order,
    lift_preservation_order,
    list_orders,
)
from tests import given

pytestmark = pytest.mark.django_db

TOMORROW = given.TODAY + timedelta(days=1)
YESTERDAY = given.TODAY - timedelta(days=1)


@pytest.fixture
def scene():
    return given.a_scene()


def legal(scene):
    return {"actor": scene.cast.legal, "at": given.NOW}


def an_order(scene, **changed):
    entry = {
        "election": scene.election,
        "issued_by": "High Bench of Calvenna",
        "order_ref": "HB/P/4",
        "dated": given.TODAY,
        "from_on": given.TODAY,
        "until_on": None,
        "covers": Covers(contests=(scene.contests["11"],)),
    }
    return enter_preservation_order(**(legal(scene) | entry | changed))


def a_paper(scene, **changed):
    entry = {
        "contest": scene.contests["11"],
        "registry_of": "High Bench of Calvenna",
        "reference": "HB/REG/11",
        "dated": given.TODAY,
        "covers_through": YESTERDAY,
    }
    return record_confirmation(**(legal(scene) | entry | changed))


@pytest.mark.parametrize(
    "who", ["custodian", "authority", "countersigner", "auditor", "administrator"]
)
def test_only_the_legal_cell_enters_orders_and_confirmations(scene, who):
    order, paper = an_order(scene), a_paper(scene)
    actor = getattr(scene.cast, who)
    act = {"actor": actor, "at": given.NOW}
    for attempt in (
        lambda: an_order(scene, order_ref="HB/P/5", actor=actor),
        lambda: lift_preservation_order(
            order=order, lifted_on=given.TODAY, lifted_by_order="x", **act
        ),
        lambda: a_paper(scene, reference="HB/REG/12", actor=actor),
        lambda: withdraw_confirmation(
            contest=scene.contests["11"],
            confirmation=paper,
            withdrawn_on=given.TODAY,
            because="x",
            **act,
        ),
    ):
        with pytest.raises(PowerMissing):
            attempt()


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"issued_by": " "}, "issued_by"),
        ({"order_ref": ""}, "order_ref"),
        ({"dated": TOMORROW}, "dated"),
        ({"until_on": YESTERDAY}, "until_on"),
        ({"covers": Covers()}, "contests"),
        ({"case": "CA-000099-X"}, "case"),
    ],
)
def test_what_is_mistaken_in_an_order_is_named_by_field(scene, changed, field):
    with pytest.raises(Mistaken) as mistaken:
        an_order(scene, **changed)
    assert list(mistaken.value.errors) == [field]
    assert not PreservationOrder.objects.exists()


def test_an_order_may_begin_on_a_day_to_come(scene):
    """It is known to be coming, so it holds from its own date on (rules.retention)."""
    an_order(scene, from_on=TOMORROW)
    (row,) = list_orders(in_force=True, **legal(scene))
    assert row.holds


def test_the_same_number_of_two_authorities_is_two_orders(scene):
    """Order key: authority, number, date (data dictionary, C.2 rule 4)."""
    an_order(scene)
    with pytest.raises(Mistaken, match="entered already"):
        an_order(scene)
    an_order(scene, issued_by="Electoral Steward of Calvenna")
    assert PreservationOrder.objects.count() == 2


def test_an_order_is_lifted_by_an_order_and_only_once(scene):
    order = an_order(scene)
    for mistaken in (
        {"lifted_by_order": " ", "lifted_on": given.TODAY},
        {"lifted_by_order": "HB/P/9", "lifted_on": TOMORROW},
        {"lifted_by_order": "HB/P/9", "lifted_on": YESTERDAY},
    ):
        with pytest.raises(Mistaken):
            lift_preservation_order(order=order, **mistaken, **legal(scene))
    lifted = {"order": order, "lifted_on": given.TODAY, "lifted_by_order": "HB/P/9"}
    lift_preservation_order(**lifted, **legal(scene))
    with pytest.raises(Refused, match="was lifted on"):
        lift_preservation_order(**lifted, **legal(scene))


def test_an_order_of_another_election_is_not_there(scene):
    order = an_order(scene)
    stranger = given.appointed(
        scene.cast.administrator, "other.law", given.Role.LEGAL, elections=()
    )
    with pytest.raises(NotThere):
        lift_preservation_order(
            order=order,
            lifted_on=given.TODAY,
            lifted_by_order="HB/P/9",
            actor=stranger,
            at=given.NOW,
        )


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"registry_of": ""}, "registry_of"),
        ({"reference": " "}, "reference"),
        ({"dated": TOMORROW}, "dated"),
        ({"covers_through": TOMORROW}, "covers_through"),
    ],
)
def test_what_is_mistaken_in_a_confirmation_is_named_by_field(scene, changed, field):
    with pytest.raises(Mistaken) as mistaken:
        a_paper(scene, **changed)
    assert list(mistaken.value.errors) == [field]
    assert not NoPetitionConfirmation.objects.exists()


def test_one_paper_is_entered_once_for_a_contest(scene):
    a_paper(scene)
    with pytest.raises(Mistaken, match="entered already"):
        a_paper(scene)
    a_paper(scene, contest=scene.contests["12"])


def test_a_confirmation_is_withdrawn_with_a_reason_and_only_once(scene):
    paper = a_paper(scene)
    withdrawal = {"contest": scene.contests["11"], "confirmation": paper}
    for mistaken in (
        {"withdrawn_on": given.TODAY, "because": " "},
        {"withdrawn_on": TOMORROW, "because": "A petition was found."},
        {"withdrawn_on": YESTERDAY, "because": "A petition was found."},
    ):
        with pytest.raises(Mistaken):
            withdraw_confirmation(**withdrawal, **mistaken, **legal(scene))
    right = {"withdrawn_on": given.TODAY, "because": "A petition was found."}
    withdraw_confirmation(**withdrawal, **right, **legal(scene))
    with pytest.raises(Refused, match="withdrawn already"):
        withdraw_confirmation(**withdrawal, **right, **legal(scene))
