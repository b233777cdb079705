"""The monitor's own sentences: what happened and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from stream.checks.verdict import verdict_line
from stream.monitor.keepers import Keeper
from stream.recording.writer import RecordingWriter
from stream.sinks.publisher import Publisher
from stream.snapshot import Level, Outcome, Sentence, Snapshot
from stream.sources.source import Source
from stream.tracker import LONGEST_GAP_S
from stream.watchman import lasting
from stream.wire import WireError


def of_source(source: Source) -> Iterable[Sentence]:
    """What is wrong with what the source takes in."""
    if source.dropped:
        yield Sentence(
            Level.ALARM,
            "dropped",
            f"{source.dropped} messages of the feed were dropped because this computer was too "
            "busy to take them. Close other programs.",
        )
    if source.left_out:
        yield Sentence(
            Level.WARNING,
            "left_out",
            f"{source.left_out} messages that are no force or ball speed came on the feed and "
            "were left out. Something else is sending to it.",
        )


def of_recording(recording: RecordingWriter | None) -> Iterable[Sentence]:
    """What is wrong with the recording."""
    if recording is not None and (trouble := recording.state().trouble):
        yield Sentence(Level.ALARM, "recording", trouble)


def of_keepers(keepers: Iterable[Keeper]) -> Iterable[Sentence]:
    """What is wrong with what is written beside the recording."""
    for keeper in keepers:
        room = keeper.room
        if room.trouble:
            yield Sentence(Level.ALARM, room.name, room.trouble)
        if room.dropped:
            yield Sentence(
                Level.ALARM, f"{room.name} lost", f"{room.name} has missed {room.dropped} things."
            )


def of_publisher(publisher: Publisher | None) -> Iterable[Sentence]:
    """What is wrong with publishing."""
    if publisher is None:
        return
    if publisher.trouble:
        yield Sentence(Level.WARNING, "publisher", publisher.trouble)
    if publisher.dropped:
        yield Sentence(
            Level.WARNING,
            "publisher lost",
            f"{publisher.dropped} published messages found no broker and were given up. "
            "Nothing is missing from the recording.",
        )


def of_check(now: Snapshot) -> Iterable[Sentence]:
    """Whether the mound's set-up check still has to be passed."""
    if now.checking is not None:
        return
    if now.checked is None:
        text = f"{verdict_line(None)} Make one before the first pitch."
        yield Sentence(Level.INFO, f"no check {now.source}", text)
    elif now.checked.outcome is Outcome.UNFINISHED:
        text = f"{now.checked.say} Make it again, and empty the deck at its first step."
        yield Sentence(Level.WARNING, f"check not finished {now.source}", text)
    elif not now.checked.ok:
        text = f"{now.checked.say} Put right what it found and make it again."
        yield Sentence(Level.WARNING, f"check failed {now.source}", text)


def other_mound(other: str, kept: str) -> Sentence:
    """A second mound came on a feed of which a session keeps one."""
    return Sentence(
        Level.WARNING,
        f"other mound {other}",
        f"Mound {other!r} is on this feed too and is left out: this session belongs to {kept!r}. "
        "Start a second monitor with its own session for it.",
    )


def not_yet(source: str) -> Sentence:
    """A ball speed came from a mound that has sent no force."""
    return Sentence(
        Level.WARNING,
        f"no force {source}",
        f"A ball speed came for mound {source!r}, which has sent no force yet; it was left out.",
    )


def unreadable(source: str, error: WireError) -> Sentence:
    """A mound that is not known yet sends what cannot be read."""
    return Sentence(
        Level.ALARM,
        f"unreadable {source}",
        f"What mound {source!r} sends cannot be read ({error}). Nothing of it is recorded. "
        "Check that device and monitor are of the same version.",
    )


def found_again(
    pitches: Sequence[int], movements: int, actions: int, pitcher: str, missed_s: float
) -> Sentence:
    """A run that was cut off had measured, or been told, what it could not write any more."""
    found = [f"pitch {', '.join(map(str, pitches))}"] if pitches else []
    found += [f"movements not counted: {movements}"] if movements else []
    found += [f"the operator's actions: {actions}"] if actions else []
    said = ["The last run of this session was cut off."]
    missed = missed_s > LONGEST_GAP_S
    if missed:
        said.append(
            f"Nothing was recorded for {lasting(missed_s)}: a pitch thrown then is not in the list."
        )
    if found:
        said.append(
            "Its recording was measured again, and what had not been written now is: "
            f"{' and '.join(found)}."
        )
    if pitcher:
        said.append(f"{pitcher} was throwing and still is; choose anew if somebody else throws.")
    return Sentence(Level.WARNING if missed else Level.INFO, "found again", " ".join(said))


def not_found_again(name: str, error: Exception) -> Sentence:
    """The recording of a run that was cut off cannot be measured."""
    return Sentence(
        Level.WARNING,
        "found again",
        f"The last run of this session was cut off, and its recording cannot be measured again "
        f"({error}). Pitches of its last seconds may be missing from the table; keep {name}.",
    )


def nothing_came(feed: str, folder: str) -> Sentence:
    """A monitor ended without having heard its mound."""
    return Sentence(
        Level.WARNING,
        "nothing came",
        f"No feed came from {feed}: nothing was recorded, and {folder} was not made.",
    )


def too_many_mounds(most: int) -> Sentence:
    """More mounds came than one monitor takes."""
    return Sentence(
        Level.ALARM,
        "too many mounds",
        f"More than {most} mounds send on this feed; further ones are left out. "
        "Name the one to follow with --source.",
    )
