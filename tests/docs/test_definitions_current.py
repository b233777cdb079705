"""docs/definitions.md says what the registries say."""

from msgspec.structs import fields

from analysis.words import FLAGS
from docs.make_definitions import PAGE, SETTINGS, page
from stream import book, report
from stream.events import EVENTS
from stream.metrics import METRICS, Need
from stream.settings import Settings


def test_the_page_is_what_the_script_makes() -> None:
    assert PAGE.read_text("utf-8") == page(), "run: python -m docs.make_definitions"


def test_the_page_names_every_metric_and_event() -> None:
    text = page()
    for key in [m.key for m in METRICS] + [e.key for e in EVENTS]:
        assert f"| `{key}` |" in text, key


def test_words_are_given_for_settings_and_needs_that_exist_and_no_others() -> None:
    assert set(SETTINGS) == {field.name for field in fields(Settings)}
    flags = {need.value for need in Need} | {book.VOID, book.TYPED_SPEED, report.FEED_GAP}
    assert flags <= set(FLAGS)


def test_no_name_reads_as_a_side_of_the_body() -> None:
    for m in METRICS:
        assert not {"left", "right"} & set(f"{m.label} {m.short}".lower().split()), m.key
