"""Out under an order, and back: what common practice asks of each step.

Common practice, no published source; failure modes 40, 52 and 62.
"""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from registry.models import Box, Envelope, Production, Seal
from registry.queries.custody import chain
from registry.rules.arrivals import SealEntry, SealKind
from registry.rules.custody_facts import CustodyFault
from registry.rules.powers import PowerMissing
from registry.usecases import (
    Mistaken,
    Refused,
    coming_back,
    custody,
    desks,
    production_looks,
    production_papers,
    productions,
)
from tests import given, stock
from tests.documents.papers import text_of

pytestmark = pytest.mark.django_db
COURT = "High Bench of Calvenna"


@pytest.fixture
def scene():
    return given.a_scene()


@pytest.fixture
def box(scene):
    box = given.a_shelved_box(scene)
    given.a_confirmation(scene)
    return box


@pytest.fixture
def permission(scene, box):
    things = [box.number, given.an_envelope_in(box).number]
    return given.a_permission(scene, things, act="take-out")


def act(scene, **more):
    return {"actor": scene.cast.custodian, "at": given.NOW, **more}


def out(scene, box, permission, read="PS-0001", **more):
    return given.handed_out(scene, {box.number: (read,)}, permission, **more)


def kept(scene, box, **more):
    productions.record_kept_by_court(
        container=box.number,
        court=more.pop("court", COURT),
        order=more.pop("order", "HB/41 of 30 October"),
        on=given.TODAY,
        **act(scene),
    )


def tasks(scene, who="custodian", at=given.NOW):
    waiting = desks.look_at_desk(actor=getattr(scene.cast, who), at=at)
    return {one.text: one for one in waiting}


def test_the_seal_is_read_when_it_goes(scene, box, permission):
    taken = out(scene, box, permission)
    assert len(taken.productions) == 1
    event = box.seals.get().events.latest("id")
    assert (event.number_read, event.witness) == ("PS-0001", "Gil Keeper")
    stock.must_add_up()


def test_what_does_not_read_as_recorded_stays(scene, box, permission):
    other = given.a_shelved_box_of_station_two(scene)
    both = given.a_permission(
        scene,
        [b.number for b in (box, other)]
        + [given.an_envelope_in(b).number for b in (box, other)],
        act="take-out",
        ref="ESC/ORD/4",
    )
    taken = given.handed_out(
        scene, {box.number: ("PS-0009",), other.number: ("PS-0002",)}, both
    )
    assert taken.stayed == (box.number,)
    assert Box.objects.get(pk=box.pk).whereabouts == "shelved"
    assert box.discrepancies.get().written == "PS-0009"
    assert Box.objects.get(pk=other.pk).whereabouts == "out"


@pytest.mark.parametrize(
    ("without", "field"),
    [
        ({"confirmed_with": ""}, "confirmed_with"),
        ({"confirmed_at": None}, "confirmed_at"),
        ({"confirmed_at": given.NOW + timedelta(hours=1)}, "confirmed_at"),
        ({"second_person": ""}, "second_person"),
        ({"second_person": "Cora Keeper"}, "second_person"),
        ({"to_person": " "}, "to_person"),
        ({"expected_back_on": given.TODAY - timedelta(days=1)}, "expected_back_on"),
    ],
)
def test_the_order_is_called_back_before_anything_leaves(
    scene, box, permission, without, field
):
    """Failure mode 40: a forged order; and nobody hands out alone."""
    handing = replace(given.a_handing(), **without)
    with pytest.raises(Mistaken) as mistaken:
        out(scene, box, permission, handing=handing)
    assert set(mistaken.value.errors) == {field}
    assert not Production.objects.exists()


def test_without_a_reading_nothing_leaves(scene, box, permission):
    with pytest.raises(Mistaken, match="Read every seal"):
        out(scene, box, permission, read="")


def test_what_is_overdue_or_without_a_day_is_asked_after(scene, box, permission):
    out(scene, box, permission)
    assert f"Box {box.number} is out under an order" in tasks(scene)
    late = given.NOW + timedelta(days=15)
    for who in ("custodian", "legal"):
        found = next(t for n, t in tasks(scene, who, late).items() if box.number in n)
        assert found.word == "Overdue", who
    page = production_looks.list_productions(**act(scene, at=late))
    assert [(row.container, row.stand) for row in page.out] == [(box.number, "overdue")]


def test_a_day_named_later_ends_the_asking(scene, box, permission):
    out(scene, box, permission, handing=replace(given.a_handing(),
        expected_back_on=None))  # fmt: skip
    assert any("no day is named" in text for text in tasks(scene))
    productions.note_production(
        container=box.number,
        receipt="HB/R/88",
        expected_back_on=given.TODAY + timedelta(days=3),
        **act(scene),
    )
    assert not any("no day is named" in text for text in tasks(scene))
    assert Production.objects.get().receipt == "HB/R/88"


def test_it_comes_back_as_it_went(scene, box, permission):
    out(scene, box, permission)
    back = given.back_again(scene, box.number, "PS-0001")
    assert back.differences == ()
    assert Production.objects.get().returned.act == "returned"
    stock.must_add_up()


def test_another_number_and_another_weight_are_discrepancies(scene, box, permission):
    going = [given.taking_out.Going(box.number, ("PS-0001",), Decimal("12.50"))]
    given.taking_out.take_out(
        going=going, permission=permission, handing=given.a_handing(), **act(scene)
    )
    back = given.back_again(scene, box.number, "PS-0007", weight_kg=Decimal("11.90"))
    assert len(back.differences) == 2
    kinds = sorted(box.discrepancies.values_list("kind", flat=True))
    assert kinds == ["other", "seal-broken"]
    assert Box.objects.get(pk=box.pk).whereabouts == "intake"


def test_a_court_seals_anew_with_its_own_seal(scene, box, permission):
    """Failure mode 52: new owner, chain old to new."""
    out(scene, box, permission)
    seal = SealEntry(SealKind.PAPER, COURT, "HB-77", signed=True)
    given.back_again(scene, box.number, court_seals=(seal,))
    new = Seal.objects.get(serial="HB-77")
    assert (new.maker, new.supersedes.serial, new.supersedes.state) == (
        COURT, "PS-0001", "superseded",
    )  # fmt: skip
    assert COURT in new.supersedes.events.latest("id").note
    assert Box.objects.get(pk=box.pk).state == "held"


def test_a_court_keeps_an_envelope_out_of_a_box(scene, box, permission):
    out(scene, box, permission)
    envelope = given.an_envelope_in(box)
    told = {"kept_by": COURT, "kept_order": "HB/41"}
    given.back_again(
        scene, box.number, "PS-0001", kept_envelopes=(envelope.number,), **told
    )
    envelope.refresh_from_db()
    assert (envelope.whereabouts, envelope.box) == ("kept", None)
    assert Production.objects.get(envelope=envelope).kept_by == COURT
    stock.must_add_up()
    given.back_again(scene, envelope.number, "W-0001")
    assert Envelope.objects.get(pk=envelope.pk).whereabouts == "intake"
    stock.must_add_up()


def test_what_a_court_keeps_of_the_content_stands_open(scene, box, permission):
    out(scene, box, permission)
    with pytest.raises(Mistaken, match="Name the court"):
        given.back_again(scene, box.number, "PS-0001", content_kept="40 slips")
    given.back_again(
        scene, box.number, "PS-0001", content_kept="40 slips",
        kept_by=COURT, kept_order="HB/41",
    )  # fmt: skip
    assert "40 slips" in box.discrepancies.get().detail


def test_what_a_court_keeps_stays_on_the_register_and_is_never_eligible(
    scene, box, permission
):
    """Failure mode 62: out to court and never returned."""
    out(scene, box, permission)
    kept(scene, box)
    box.refresh_from_db()
    assert (box.whereabouts, box.movements.latest("id").to_person) == ("kept", COURT)
    destroys = given.a_permission(scene, [box.number], ref="ESC/ORD/8")
    with pytest.raises(Refused, match="not present"):
        given.disposed_of(scene, box.number, destroys)
    with pytest.raises(Refused, match="already"):
        kept(scene, box)
    kept(scene, box, court="Court of Final Appeal of Calvenna", order="CFA/2")
    last = box.movements.latest("id")
    assert (last.from_person, last.to_person) == (
        COURT,
        "Court of Final Appeal of Calvenna",
    )
    assert Production.objects.count() == 1
    stock.must_add_up()
    given.back_again(scene, box.number, "PS-0001")
    stock.must_add_up()


def test_sent_on_is_the_same_production(scene, box, permission):
    out(scene, box, permission)
    productions.record_sent_on(
        container=box.number,
        to_person="Tam Weir, registrar",
        to_place="Court of Final Appeal of Calvenna",
        order="HB/42",
        on=given.TODAY,
        **act(scene),
    )
    row = Production.objects.get()
    assert (row.received_by, row.expected_back_on) == ("Tam Weir, registrar", None)
    assert stock.holder(box) == "Tam Weir, registrar"
    with pytest.raises(Mistaken, match="not come yet"):
        productions.record_kept_by_court(
            container=box.number, court=COURT, order="x",
            on=given.TODAY + timedelta(days=1), **act(scene),
        )  # fmt: skip


@pytest.mark.parametrize("at_court", [False, True])
def test_what_was_missed_while_out_is_out_again_when_found(
    scene, box, permission, at_court
):
    out(scene, box, permission)
    if at_court:
        kept(scene, box)
    custody.report_not_found(container=box.number, note="Called them.", **act(scene))
    custody.report_found(container=box.number, note="In their cellar.", **act(scene))
    assert Box.objects.get(pk=box.pk).whereabouts == ("kept" if at_court else "out")
    stock.must_add_up()


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_custodians_hand_out_and_take_back(scene, box, permission, who):
    other = {"actor": getattr(scene.cast, who), "at": given.NOW}
    with pytest.raises(PowerMissing):
        given.taking_out.take_out(
            going=[given.taking_out.Going(box.number, ("PS-0001",))],
            permission=permission,
            handing=given.a_handing(),
            **other,
        )
    with pytest.raises(PowerMissing):
        coming_back.take_back(
            container=box.number, back=coming_back.Return("x"), **other
        )


def test_the_pick_list_names_places_and_no_seal(scene, box, permission):
    paper = production_papers.print_pick_list(permission=permission, **act(scene))
    text = text_of(paper.content)
    for word in (box.number, "bay A, shelf 1", "Lifting", "Two persons"):
        assert word in text, word
    assert "PS-0001" not in text


def test_the_receipt_is_for_both_sides(scene, box, permission):
    number = out(scene, box, permission).productions[0]
    paper = production_papers.print_production_receipt(production=number, **act(scene))
    text = text_of(paper.content)
    for word in (box.number, "PS-0001", "Orin Sedge", "Received by: Rhea Moor",
                 "Handed out by: Cora Keeper", "two people lift",
                 "Local rules on fire, handling and waste come first"):  # fmt: skip
        assert word in text, word


def test_what_was_missed_while_it_was_out_is_found_where_it_was(scene, box, permission):
    """Who had it out answers for it again, and not who heard that it was found."""
    out(scene, box, permission)
    custody.report_not_found(
        container=box.number, note="The clerk asked.", **act(scene)
    )
    custody.report_found(container=box.number, note="In their safe.", **act(scene))
    box.refresh_from_db()
    assert box.whereabouts == "out"
    assert box.movements.latest("id").to_person == given.a_handing().to_person


def test_what_a_court_kept_was_never_back_in_the_keepers_hands(scene, box, permission):
    out(scene, box, permission)
    envelope = given.an_envelope_in(box)
    told = {"kept_by": COURT, "kept_order": "HB/41"}
    given.back_again(
        scene, box.number, "PS-0001", kept_envelopes=(envelope.number,), **told
    )
    envelope.refresh_from_db()
    faults = {f.fault for f in chain(envelope, given.NOW).findings}
    assert CustodyFault.NOT_HOLDER not in faults


def test_an_envelope_found_without_its_missing_box_is_at_the_table(scene, box):
    envelope = given.an_envelope_in(box)
    for one in (envelope, box):
        custody.report_not_found(container=one.number, note="Looked for.", **act(scene))
    custody.report_found(container=envelope.number, note="On the floor.", **act(scene))
    envelope.refresh_from_db()
    assert (envelope.whereabouts, envelope.box) == ("intake", None)
    assert envelope.movements.latest("id").to_person == scene.cast.custodian.name
    stock.must_add_up()
