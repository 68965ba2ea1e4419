"""Scanned papers: judged by content, kept with their digest, given out on request."""

import io
import zipfile

import pytest

from registry.models import AccessEntry, Document, Permission
from registry.rules.powers import PowerMissing
from registry.usecases import Mistaken, NotThere, Refused, documents
from registry.usecases.documents import Upload
from tests import given

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 32
JPEG = b"\xff\xd8\xff\xe0" + b"\0" * 32


def an_archive():
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as archive:
        archive.writestr("run.class", "x")
    return kept.getvalue()


@pytest.fixture
def scene():
    return given.a_scene()


def handed_in(scene, content, ref="ESC/ORD/1"):
    box = given.Box.objects.first() or given.a_shelved_box(scene)
    return given.a_permission(
        scene, [box.number], ref=ref, document=Upload("Order", content)
    )


def the_document(permission):
    return Permission.objects.get(number=permission).document


def given_out(actor, number):
    return documents.read_document(document=number, actor=actor, at=given.NOW)


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (PDF, "application/pdf"),
        (PNG, "image/png"),
        (JPEG, "image/jpeg"),
        (b"II*\0" + b"\0" * 9, "image/tiff"),
        (b"MM\0*" + b"\0" * 9, "image/tiff"),
    ],
)
def test_a_paper_comes_out_as_it_went_in(scene, content, media_type):
    """Signs: ISO 32000-1 7.5.2, PNG (W3C) 5.2, ITU-T T.81 B.1.1.3, TIFF 6.0 (from
    memory)."""
    kept = the_document(handed_in(scene, content))
    paper = given_out(scene.cast.auditor, kept.number)
    assert (paper.content, paper.media_type) == (content, media_type)
    entry = AccessEntry.objects.filter(act="document.look").get()
    assert (entry.subject, entry.outcome) == (kept.number, "done")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"MZ\x90\0", "Only PDF"),
        (b"\x7fELF\2\1\1", "Only PDF"),
        (b"#!/bin/sh\n", "Only PDF"),
        (b"<html><script>", "Only PDF"),
        (b"GIF89a" + b"\0" * 20, "Only PDF"),
        (b" " + PDF, "Only PDF"),
        (an_archive(), "Only PDF"),
        (JPEG + an_archive(), "also an archive"),
        (PDF + an_archive(), "also an archive"),
        (PDF[:30], "cut off"),
        (PDF.replace(b"/Type", b"/OpenAction<</S/JavaScript/JS(x)>>/Type"), "program"),
        (PDF.replace(b"/Type", b"/OpenAction<</S/Launch>>/Type"), "program"),
        (PDF.replace(b"/Type", b"/Names<</EmbeddedFiles 2 0 R>>/Type"), "program"),
    ],
)
def test_what_is_no_paper_is_refused_by_its_content(scene, content, said):
    """Failure mode 84: an executable, a polyglot, a PDF with a script."""
    with pytest.raises(Mistaken, match=said) as mistaken:
        handed_in(scene, content)
    assert "document" in mistaken.value.errors
    assert not Document.objects.exists()
    assert not Permission.objects.exists()


def test_a_file_over_the_limit_is_refused(scene, settings):
    settings.UPLOAD_LIMIT = 2**20
    handed_in(scene, PDF.replace(b"\n", b"\n" * 9))
    with pytest.raises(Mistaken, match="larger than 1 MB"):
        handed_in(scene, PDF[:-6] + b" " * 2**20 + b"%%EOF\n", ref="ESC/ORD/2")


def test_a_file_changed_on_disk_is_noticed(scene):
    kept = the_document(handed_in(scene, PDF))
    with open(kept.file.path, "ab") as file:
        file.write(b"forged")
    with pytest.raises(Refused, match="digest differs"):
        given_out(scene.cast.auditor, kept.number)
    entry = AccessEntry.objects.filter(act="document.look").get()
    assert (entry.outcome, entry.subject) == ("refused", kept.number)


def test_a_file_missing_on_disk_is_noticed(scene):
    kept = the_document(handed_in(scene, PDF))
    kept.file.storage.delete(kept.file.name)
    with pytest.raises(Refused, match="cannot be read"):
        given_out(scene.cast.auditor, kept.number)


def test_the_same_scan_may_belong_to_two_orders(scene):
    one = the_document(handed_in(scene, PDF))
    other = the_document(handed_in(scene, PDF, ref="ESC/ORD/2"))
    assert one.digest == other.digest
    assert given_out(scene.cast.auditor, other.number).content == PDF


def test_a_legal_officer_gets_the_papers_of_the_own_elections_only(scene):
    kept = the_document(handed_in(scene, PDF))
    assert given_out(scene.cast.legal, kept.number).content == PDF
    stranger = given.appointed(
        scene.cast.administrator, "noa.law", given.Role.LEGAL, elections=()
    )
    with pytest.raises(NotThere):
        given_out(stranger, kept.number)


def test_the_administrator_gets_no_papers(scene):
    kept = the_document(handed_in(scene, PDF))
    with pytest.raises(PowerMissing):
        given_out(scene.cast.administrator, kept.number)


def test_its_digest_is_part_of_what_is_countersigned(scene):
    one = Permission.objects.get(number=handed_in(scene, PDF))
    other = Permission.objects.get(number=handed_in(scene, PNG, ref="ESC/ORD/2"))
    other.order_ref, other.pk = one.order_ref, one.pk
    from registry.queries.permissions import list_digest

    assert list_digest(one, []) != list_digest(other, [])
