"""Paper forms: entered later with both times, and every number accounted for.

Failure mode 90: the network is down on counting night. Failure mode 69: back-dated.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.models import AccessEntry, Box, FallbackForm, Whereabouts
from registry.queries.containers import file_of
from registry.queries.desk_of_forms import forms_waiting
from registry.rules.powers import PowerMissing, Role
from registry.usecases import Mistaken, NotThere, Refused, boxes, custody
from registry.usecases import paper_forms as forms
from registry.usecases.documents import Upload
from registry.usecases.paper_forms import FormsWanted, Happened
from tests import given

pytestmark = pytest.mark.django_db

NIGHT = given.NOW - timedelta(hours=12)
SCAN = Upload("Paper form", b"\x89PNG\r\n\x1a\n" + b"0" * 40)


@pytest.fixture
def scene():
    return given.a_scene(at=given.NOW - timedelta(days=3))


@pytest.fixture
def act(scene):
    return {"actor": scene.cast.custodian, "at": given.NOW}


def issued(scene, count=1, kind="moves", at=NIGHT - timedelta(hours=1), **more):
    return forms.issue_forms(
        room=more.get("room", scene.room),
        kind=kind,
        count=count,
        actor=more.get("actor", scene.cast.custodian),
        at=at,
    )


def state_of(number):
    return FallbackForm.objects.get(number=number).state


def a_box_on_the_table(scene, at=NIGHT - timedelta(hours=2)):
    return given.logged(scene, given.an_open_box(), at=at).number


def shelved_late(scene, act, form, box, happened_at=NIGHT, shelf=0):
    return boxes.shelve_box(
        box=box,
        shelf=scene.shelves[shelf],
        happened=Happened(happened_at, form),
        **act,
    )


# Numbers


def test_numbers_are_given_out_and_printed_with_every_sheet_entered(scene, act):
    numbers = issued(scene, 3)
    printed = forms.print_forms(forms=numbers, enter_at="http://here/", **act)
    assert printed.content[:5] == b"%PDF-"
    entry = AccessEntry.objects.get(act="paper_form.print")
    assert set(entry.shown.values_list("number", flat=True)) == set(numbers)
    again = forms.look_at_run(first=numbers[0], count=9, **act)
    assert [(sheet.number, sheet.printed) for sheet in again] == [
        (number, 1) for number in numbers
    ]


def test_a_used_form_is_not_printed_again(scene, act):
    [form] = issued(scene)
    shelved_late(scene, act, form, a_box_on_the_table(scene))
    with pytest.raises(Refused, match="two sheets would bear one number"):
        forms.print_forms(forms=[form], enter_at="http://here/", **act)


@pytest.mark.parametrize("count", [0, 101])
def test_a_pad_has_its_limits(scene, act, count):
    with pytest.raises(Mistaken, match="1 to 100"):
        issued(scene, count)
    assert not FallbackForm.objects.exists()


# Entered later


def test_what_is_entered_later_keeps_both_times(scene, act):
    """Failure mode 90: occurred and recorded, and the form it stood on."""
    box, [form] = a_box_on_the_table(scene), issued(scene)
    shelved_late(scene, act, form, box)
    record = Box.objects.get(number=box)
    move = record.movements.get(act="shelved")
    assert (move.occurred_at, move.recorded_at) == (NIGHT, given.NOW)
    file = forms.look_at_form(form=form, **act)
    assert [(u.subject, u.occurred_at, u.recorded_at) for u in file.uses] == [
        (box, NIGHT, given.NOW)
    ]
    assert state_of(form) == "in-entry"


def test_a_late_entry_stands_in_the_history_where_it_happened_and_is_marked(scene, act):
    box, [form] = a_box_on_the_table(scene), issued(scene)
    noon = {"actor": scene.cast.custodian, "at": NIGHT + timedelta(hours=5)}
    custody.hand_over(container=box, to_person="Gil Keeper", **noon)
    shelved_late(scene, act, form, box, NIGHT)
    file = file_of(Box.objects.get(number=box), given.TODAY)
    assert [m.act for m in file.movements] == ["received", "shelved", "handed over"]
    [late] = [entry for entry in file.timeline if entry.recorded_at]
    assert (late.kind, late.at) == ("Put on a shelf", NIGHT)
    assert Box.objects.get(number=box).shelf.number == scene.shelves[0]


def test_the_timeline_shows_when_it_happened_and_when_it_was_entered(scene, act):
    box, [form] = a_box_on_the_table(scene), issued(scene)
    shelved_late(scene, act, form, box)
    file = file_of(Box.objects.get(number=box), given.TODAY)
    [late] = [entry for entry in file.timeline if entry.recorded_at]
    assert (late.at, late.recorded_at) == (NIGHT, given.NOW)
    assert late.source == f"paper form {form}"
    moments = [entry.at for entry in file.timeline]
    assert moments == sorted(moments, reverse=True)


def test_what_is_entered_late_does_not_undo_what_happened_since(scene, act):
    """Shelf 1 at night by the form, shelf 2 at noon; the form is entered last."""
    box, [form] = a_box_on_the_table(scene), issued(scene)
    noon = {"actor": scene.cast.custodian, "at": NIGHT + timedelta(hours=5)}
    boxes.shelve_box(box=box, shelf=scene.shelves[1], **noon)
    told = shelved_late(scene, act, form, box, shelf=0)
    record = Box.objects.get(number=box)
    assert record.shelf.number == scene.shelves[1]
    assert "as it was then" in told
    places = list(record.movements.order_by("occurred_at").values_list("to_place"))
    assert [place for (place,) in places][-2:] == [
        "Customs House strong room, bay A, shelf 1",
        "Customs House strong room, bay A, shelf 2",
    ]


def test_what_was_seen_later_is_not_reported_missing_from_before(scene, act):
    box, [form] = a_box_on_the_table(scene), issued(scene)
    noon = {"actor": scene.cast.custodian, "at": NIGHT + timedelta(hours=5)}
    boxes.shelve_box(box=box, shelf=scene.shelves[1], **noon)
    with pytest.raises(Refused, match="after this moment"):
        custody.report_not_found(
            container=box, note="Searched.", happened=Happened(NIGHT, form), **act
        )
    assert Box.objects.get(number=box).whereabouts == Whereabouts.SHELVED
    assert state_of(form) == "blank"


def test_an_intake_on_paper_is_received_when_it_happened(scene, act):
    [form] = issued(scene, kind="intake")
    box = given.logged(
        scene, given.an_open_box(), happened=Happened(NIGHT, form)
    ).number
    inside = given.logged(
        scene,
        given.an_envelope_on_the_table(),
        box=box,
        happened=Happened(NIGHT + timedelta(minutes=5), form),
    )
    record = Box.objects.get(number=box)
    assert record.movements.get().occurred_at == NIGHT
    [envelope] = record.envelopes.all()
    assert envelope.number == inside.number
    assert {m.occurred_at for m in envelope.movements.all()} == {
        NIGHT + timedelta(minutes=5)
    }


def test_a_seal_looked_at_on_paper_counts_for_its_own_day(scene, act):
    night = given.NOW - timedelta(days=1)
    box = given.a_shelved_box(scene, at=given.NOW - timedelta(days=2)).number
    [form] = issued(scene, kind="seals", at=given.NOW - timedelta(days=2))
    boxes.check_seal(
        container=box,
        number_read="PS-0001",
        finding="intact-matches",
        happened=Happened(night, form),
        **act,
    )
    event = Box.objects.get(number=box).seals.get().events.last()
    assert (event.occurred_on, event.recorded_at) == (night.date(), given.NOW)


# Refused in plain words


def test_a_moment_that_has_not_come_is_refused(scene, act):
    """Failure mode 69, the other way round: dated ahead."""
    box, [form] = a_box_on_the_table(scene), issued(scene)
    with pytest.raises(Mistaken, match="not come yet"):
        shelved_late(scene, act, form, box, given.NOW + timedelta(minutes=1))


def test_a_moment_before_the_form_was_printed_is_refused(scene, act):
    """Failure mode 69: whoever dates back finds no form that is old enough."""
    box, [form] = a_box_on_the_table(scene), issued(scene)
    with pytest.raises(Mistaken, match="was printed on 1 November 2026 at 21:00"):
        shelved_late(scene, act, form, box, NIGHT - timedelta(minutes=61))
    # Nobody writes seconds: the minute of printing is taken.
    shelved_late(scene, act, form, box, NIGHT - timedelta(hours=1))


def test_a_moment_before_the_container_came_in_is_refused(scene, act):
    [form] = issued(scene)
    box = a_box_on_the_table(scene, at=given.NOW)
    with pytest.raises(Mistaken, match="came in on 2 November"):
        shelved_late(scene, act, form, box)


def test_a_form_of_another_room_is_refused(scene):
    keeper = given.appointed(
        scene.cast.administrator,
        "gil.both",
        Role.CUSTODIAN,
        rooms=(scene.room, scene.other_room),
    )
    [form] = issued(scene, room=scene.other_room, actor=keeper)
    box = a_box_on_the_table(scene)
    with pytest.raises(Refused, match="printed for Old Granary"):
        shelved_late(scene, {"actor": keeper, "at": given.NOW}, form, box)


def test_a_form_that_is_accounted_for_takes_nothing_more(scene, act):
    box, [form] = a_box_on_the_table(scene), issued(scene)
    forms.return_unused(form=form, **act)
    with pytest.raises(Refused, match="nothing more is entered"):
        shelved_late(scene, act, form, box)


def test_a_form_of_nobody_or_mistyped_leads_nowhere(scene, act):
    box = a_box_on_the_table(scene)
    for number in ("PF-000001-6", "PF-000001-7", box):
        with pytest.raises(NotThere):
            shelved_late(scene, act, number, box)
    assert not Box.objects.get(number=box).shelf


# Accounted for


def test_every_number_is_accounted_for(scene, act):
    box = a_box_on_the_table(scene)
    first, second, third, fourth, _ = issued(scene, 5)
    shelved_late(scene, act, first, box)
    forms.mark_entered(form=first, document=SCAN, **act)
    forms.spoil(form=second, note="Coffee; kept in the folder.", **act)
    forms.return_unused(form=third, **act)
    forms.report_lost(form=fourth, note="Not in the pad.", **act)
    [account] = forms.list_forms(wanted=FormsWanted(), **act).accounts
    assert account.account.sentence == (
        "printed 5 = 1 entered + 1 spoilt + 1 returned + 1 in stock "
        "+ 1 not accounted for"
    )
    assert forms.look_at_form(form=first, **act).document.startswith("DO-")


def test_a_form_passed_over_is_named(scene, act):
    first, second = issued(scene, 2)
    shelved_late(scene, act, second, a_box_on_the_table(scene))
    found = forms.list_forms(wanted=FormsWanted(), **act)
    assert found.accounts[0].account.skipped == (first,)
    assert [row.number for row in found.rows if row.skipped] == [first]


def test_a_lost_form_that_turns_up_stands_as_before(scene, act):
    [form] = issued(scene)
    forms.report_lost(form=form, note="Not in the pad.", **act)
    with pytest.raises(Refused, match="found first"):
        forms.return_unused(form=form, **act)
    forms.report_found(form=form, note="Under the tray.", **act)
    assert state_of(form) == "blank"
    forms.return_unused(form=form, **act)
    note = FallbackForm.objects.get(number=form).note
    assert note == "Not in the pad. Under the tray."


@pytest.mark.parametrize("end", [forms.spoil, forms.report_lost, forms.report_found])
def test_an_end_without_a_word_is_not_taken(scene, act, end):
    [form] = issued(scene)
    if end is forms.report_found:
        forms.report_lost(form=form, note="Gone.", **act)
    with pytest.raises(Mistaken):
        end(form=form, note=" ", **act)


def test_the_desk_names_what_lies_about_too_long(scene):
    def waiting(days):
        at = given.NOW + timedelta(days=days)
        return [one.text for one in forms_waiting(scene.cast.custodian, at.date(), at)]

    issued(scene, 2)
    assert waiting(13) == []
    assert waiting(15) == [
        "2 paper forms printed more than 14 days ago and still blank"
    ]


def test_the_desk_names_what_is_lost_or_passed_over_at_once(scene, act):
    _, second, third = issued(scene, 3)
    shelved_late(scene, act, second, a_box_on_the_table(scene))
    forms.report_lost(form=third, note="Gone.", **act)
    said = [
        (one.word, one.tone)
        for one in forms_waiting(scene.cast.custodian, given.TODAY, given.NOW)
    ]
    assert said == [("Missing", "stop"), ("Look", "wait")]


# Who may


@pytest.mark.parametrize("who", ["legal", "authority", "auditor", "administrator"])
def test_only_custodians_write_on_forms(scene, who):
    [form] = issued(scene)
    act = {"actor": getattr(scene.cast, who), "at": given.NOW}
    for attempt in (
        lambda: forms.issue_forms(room=scene.room, kind="moves", count=1, **act),
        lambda: forms.print_forms(forms=[form], enter_at="x", **act),
        lambda: forms.spoil(form=form, note="x", **act),
        lambda: forms.return_unused(form=form, **act),
        lambda: forms.mark_entered(form=form, **act),
        lambda: forms.report_lost(form=form, note="x", **act),
        lambda: forms.report_found(form=form, note="x", **act),
        lambda: forms.look_at_form_to_act(form=form, **act),
    ):
        with pytest.raises(PowerMissing):
            attempt()
    assert state_of(form) == "blank"


def test_a_form_of_another_room_is_not_there(scene, act):
    [form] = issued(scene)
    stranger = replace(scene.cast.custodian, rooms=frozenset())
    for look in (forms.look_at_form, forms.return_unused):
        with pytest.raises(NotThere):
            look(form=form, actor=stranger, at=given.NOW)
