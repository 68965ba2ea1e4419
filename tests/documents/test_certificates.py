"""A disposal certificate names everything, and its list can be checked for ever."""

import hashlib
import json
from dataclasses import replace
from datetime import date

import pytest

from registry.documents.certificates import (
    CertificateIncomplete,
    NotDone,
    canonical_list,
    certificate_pdf,
    list_digest,
)
from tests.documents.papers import certificate, disposed, page_texts, reader, text_of


def test_the_certificate_names_what_was_done_and_by_whose_leave():
    text = text_of(certificate_pdf(certificate()))
    for words in (
        "CF-000003-J",
        "DS-000003-4",
        "PM-000007-T",
        "Electoral Steward of Calvenna",
        "ES/DIS/2026/041, dated 4 May 2026",
        "Recorded by L. Orme",
        "Countersigned by K. Vane",
        "NP-000002-1, Registry of the High Bench",
        "cross-cut shredding",
        "Particle level ordered P-4",
        "Particle level achieved P-5",
        "yard of the Old Granary strong room",
        "20 May 2026, 10:40 (UTC)",
        "Disposed of by R. Alder",
        "Containers disposed of 3",
    ):
        assert words in text


def test_each_witness_and_the_disposer_have_a_line_to_sign():
    text = text_of(certificate_pdf(certificate()))
    assert "Witness: M. Stile, district office" in text
    assert "Witness: J. Wren, district audit" in text
    assert "Disposed of by: R. Alder" in text
    assert text.count("Name, signature, date and time") == 4


def test_each_container_is_listed_with_why_it_could_go():
    paper = certificate()
    text = text_of(certificate_pdf(paper))
    for container in paper.containers:
        assert container.number in text
    assert text.count("The time of keeping ended on 5 April 2026.") == 3
    assert text.count("Governed by: petition window") == 3


def test_the_certificate_warns_of_shredders_and_says_who_decides():
    text = text_of(certificate_pdf(certificate()))
    assert "Switch off and unplug before clearing a jam" in text
    assert "Batteries never go through a shredder" in text
    assert "The statute, the court and counsel decide" in text


def test_the_digest_is_that_of_the_list_inside_the_file():
    paper = certificate()
    pdf = certificate_pdf(paper)
    enclosed = reader(pdf).attachments["CF-000003-J-containers.json"][0]
    assert hashlib.sha256(enclosed).hexdigest() == list_digest(paper.containers)
    assert list_digest(paper.containers) in text_of(pdf).replace(" ", "")
    assert [c["number"] for c in json.loads(enclosed)] == [
        c.number for c in paper.containers
    ]


def test_the_list_has_one_form_only():
    # RFC 8785, 3.2: keys sorted, no white space, letters as UTF-8, short escapes.
    one = disposed("EN-000121-4", station="007 “Quai”\n", why="a\\b", governed_by='"')
    assert canonical_list((one,)).decode() == (
        '[{"content_title":"Poll slips","governed_by":"\\"","noun":"Envelope",'
        '"number":"EN-000121-4","retain_through":"2026-04-05",'
        '"station":"007 “Quai”\\n","why":"a\\\\b"}]'
    )


@pytest.mark.parametrize(
    "change",
    [
        {"number": "EN-000122-2"},
        {"station": "008"},
        {"retain_through": date(2026, 4, 6)},
        {"why": "another reason"},
    ],
)
def test_any_change_of_the_list_changes_the_digest(change):
    before = disposed("EN-000121-4")
    assert list_digest((replace(before, **change),)) != list_digest((before,))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"witnesses": ("M. Stile",)}, "two different witnesses"),
        ({"witnesses": ("M. Stile", " m. stile ")}, "two different witnesses"),
        ({"witnesses": ("M. Stile", " ")}, "two different witnesses"),
        ({"method": " "}, "by which method"),
        ({"containers": ()}, "at least one container"),
    ],
)
def test_a_certificate_that_certifies_nothing_is_refused(change, words):
    with pytest.raises(CertificateIncomplete, match=words):
        certificate_pdf(certificate(**change))


def test_what_was_not_done_is_on_the_certificate():
    left = (NotDone("EN-000130-2", "a petition came in during the work"),)
    text = text_of(certificate_pdf(certificate(not_done=left)))
    assert "Not disposed of" in text
    assert "EN-000130-2 a petition came in during the work" in text


def test_a_level_that_was_not_measured_is_not_made_up():
    text = text_of(certificate_pdf(certificate(level_achieved="")))
    assert "Particle level achieved not measured" in text


def test_a_method_without_particles_names_no_level():
    paper = certificate(method="pulping", level_ordered="", level_achieved="")
    assert "Particle level" not in text_of(certificate_pdf(paper))


def test_a_long_list_repeats_its_heads_and_numbers_its_pages():
    paper = certificate(containers=tuple(disposed(f"EN-{n:06}-X") for n in range(60)))
    pages = page_texts(certificate_pdf(paper))
    for place, text in enumerate(pages, start=1):
        assert f"page {place} of {len(pages)}" in text
        if "Governed by" in text:
            assert "Why it could be disposed of" in text
