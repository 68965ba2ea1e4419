"""What every PDF keeps to: nothing fetched, the same bytes, no letter lost."""

from dataclasses import replace
from datetime import datetime

import pytest

from registry.documents.certificates import certificate_pdf
from registry.documents.letters import letters_without_font
from registry.documents.moments import written_moment
from registry.documents.pdf import Paper, PaperFailed, pages_of, render
from registry.documents.reports import report_pdf
from tests.documents.papers import AT, AT_UTC, certificate, reader, report, row, text_of

# A code point of Unicode's private use: by its rules no font need have it.
PRIVATE_LETTER = "\ue4c7"


@pytest.fixture
def paper(tmp_path, settings):
    """A paper whose page is the text that a test gives."""
    (tmp_path / "plain.css").write_text("@page { size: 100mm 60mm; margin: 10mm }")
    (tmp_path / "page.html").write_text(
        '<html lang="{{ language }}"><title>{{ title }}</title>'
        '<meta name="dcterms.created" content="{{ created }}">{{ body|safe }}'
    )
    [engine] = settings.TEMPLATES
    settings.TEMPLATES = [engine | {"DIRS": [tmp_path, *engine["DIRS"]]}]

    def lay(body, **changes):
        facts = {"body": body}
        made = Paper("page.html", facts, "A paper", AT, "R. Alder", sheet="plain.css")
        return replace(made, **changes)

    return lay


@pytest.mark.parametrize(
    "body",
    [
        '<img src="{address}">',
        '<link rel="stylesheet" href="{address}">',
        '<link rel="attachment" href="{address}">',
        '<div style="background: url({address})">x</div>',
        '<object data="{address}"></object>',
    ],
)
def test_nothing_outside_the_paper_is_ever_fetched(paper, tmp_path, body):
    secret = tmp_path / "secret.css"
    secret.write_text("p { color: red }")
    with pytest.raises(PaperFailed, match="A paper"):
        render(paper(body.format(address=secret.as_uri())))


def test_no_address_of_the_network_is_asked(paper):
    with pytest.raises(PaperFailed, match="cannot be made"):
        render(paper('<img src="http://127.0.0.1:9/x.png">'))


def test_a_picture_that_stands_in_the_page_is_shown(paper):
    svg = "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg'/%3E"
    assert render(paper(f'<img src="{svg}" alt="x">')).startswith(b"%PDF-")


def test_the_same_paper_gives_the_same_bytes():
    assert certificate_pdf(certificate()) == certificate_pdf(certificate())
    rows = [row("EN-000121-4")]
    assert report_pdf(report(rows, (("term", 1),))) == report_pdf(
        report(rows, (("term", 1),))
    )


def test_another_paper_has_another_identifier(paper):
    one, other = render(paper("<p>one</p>")), render(paper("<p>other</p>"))
    assert reader(one).trailer["/ID"][0] != reader(other).trailer["/ID"][0]


def test_an_identifier_can_be_given(paper):
    pdf = render(paper("<p>x</p>"), pdf_identifier=b"0123456789abcdef")
    assert bytes(reader(pdf).trailer["/ID"][0].original_bytes) == b"0123456789abcdef"


def test_title_language_and_time_stand_in_the_file(paper):
    found = reader(render(paper("<p>x</p>", language="hi")))
    assert found.metadata.title == "A paper"
    assert found.trailer["/Root"]["/Lang"] == "hi"
    assert found.metadata.creation_date == AT


def test_the_file_says_that_it_is_for_the_archive(paper):
    # ISO 19005-3: part 3, conformance B, declared in the XMP metadata (from memory).
    xmp = reader(render(paper("<p>x</p>"))).trailer["/Root"]["/Metadata"].get_data()
    assert b'pdfaid:part="3"' in xmp or b"<pdfaid:part>3<" in xmp
    assert b'conformance="B"' in xmp or b"conformance>B<" in xmp


def test_every_font_is_embedded():
    fonts = {}
    for page in reader(certificate_pdf(certificate())).pages:
        fonts |= page["/Resources"]["/Font"]
    assert fonts
    for font in fonts.values():
        [real] = font.get_object()["/DescendantFonts"]
        descriptor = real.get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_headings_and_table_heads_are_tagged_for_readers_aloud():
    catalogue = reader(certificate_pdf(certificate())).trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalogue


def test_what_is_printed_is_text_and_not_markup():
    script = "<script>x</script><img src=x>"
    text = text_of(certificate_pdf(certificate(place=script)))
    assert script in text


def test_a_letter_without_a_font_is_spelt_out(paper):
    text = text_of(render(paper(f"<p>Quay {PRIVATE_LETTER} Street</p>")))
    assert "Quay [U+E4C7] Street" in text


def test_only_letters_without_a_font_are_spelt_out():
    assert letters_without_font("–“”" + PRIVATE_LETTER) == {PRIVATE_LETTER}


def test_a_broken_part_is_found_on_each_of_its_pages(paper):
    tall = "<p>x</p>" * 20
    found = pages_of(paper(f'<div id="a">x</div><div id="b">{tall}</div>'))
    assert found["a"] == (0,)
    assert len(found["b"]) > 1


@pytest.mark.parametrize(
    ("moment", "written"),
    [
        (AT, "5 March 2026, 14:05 (UTC+05:30)"),
        (AT_UTC, "5 March 2026, 08:35 (UTC)"),
    ],
)
def test_a_moment_is_written_with_its_time_zone(moment, written):
    assert written_moment(moment) == written


def test_a_moment_without_a_time_zone_is_refused(paper):
    naive = datetime(2026, 3, 5, 14, 5)  # noqa: DTZ001 - what is refused
    with pytest.raises(ValueError, match="no time zone"):
        render(paper("<p>x</p>", made_at=naive))
