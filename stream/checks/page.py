"""The page docs/setup-check.md, made from the registry: ``python -m stream.checks.page``."""

from __future__ import annotations

from stream.checks.registry import CHECKS
from stream.checks.verdict import Check, Status

_HEAD = """# The set-up check

<!-- Made from the registry of checks: python -m stream.checks.page > docs/setup-check.md -->

A wrong sign, a lost channel, a drifting zero or a feed at 188 Hz spoils a session silently. The
set-up check finds it in under a minute, before the first pitch.

    moundfeed check --from tcp://HOST:PORT --layout two-plates --session DIR

On a terminal a screen guides through it; in the live screens `k` (or the command palette) opens the
same. It asks for the known mass, its spot and who checks (`--mass-kg 20 --at 1.8,0.3 --by "J. D."`
answer beforehand), then:

1. **Step off the deck**; take everything off it. After `--seconds` (5) of stillness the zero is
   taken, with who took it and when, and the empty channels are judged. While somebody or something
   is on it the step stays: take everything off. Whoever says that it is empty all the same gets a
   `zero` that failed, no new zero, and no judgement of what rests on it (`signs`, `weight`,
   `position`).
2. **Put the known mass on the marked spot.** X,Y is metres towards home and to the left of a
   pitcher who faces home, from the middle of the rubber's front edge; it is ◎ on the plan. Choose
   a spot off both middle lines of its platform: on a middle line a mirrored deck looks right. 20 kg
   or more; the heavier, the closer `weight` and `position` can tell.
3. **Stand on**: body weight; without a known mass also the signs.

The feed is judged all the while, once a second. A step is taken by itself when its load has stood
still; Enter takes it at once, `s` skips it, `b` does the step before again (after the end: the
first that failed), Esc leaves. What is not right stands first, in words, with what to do.

With `--json OUT`, `--plain` or without a terminal the same steps are said line by line (`--stand`
adds the third). On a recording (`--from FILE.mcap`) the empty and the loaded stretch are found by
themselves; the empty deck should come first. What was not seen is `not_run`, never a pass. The exit
code is 0 only where nothing failed.

**What is kept.** With `--session DIR` the result and the zero stay in the session's folder, which
is begun if it is not there, so that a check can come before the first pitch; a folder that is
something else is refused at once. A check that is left before it is done leaves nothing behind. A
session without a passed check says so on the screen and in its reports; a check whose zero was not
taken is "not finished" there, one without a known mass "passed without a known mass". While a check
runs no zero is learnt by itself, so that the known mass stays in the picture.

**To practise**: `moundfeed simulate --to tcp://127.0.0.1:5555 --scene check --at=1.8,0.3` plays an
empty deck, a mass of 20 kg and somebody standing; `--fault sign_flip:8` or another of
`--fault list` plants what the check is to find.

Lift masses safely, with help. A deck that moves underfoot, cables and mains near wet ground:
follow the maker's and local electrical codes.
"""

_TAIL = """## False alarms

`python benchmarks/check_false_alarms.py --checks 2400 --seed 2`: in 2,400 simulated set-up checks
of faultless mounds (800 on each shipped layout; noise of 0.5 to 10 N SD on every channel, offsets
of 20 N SD, clocks up to 100 ppm off, one message in 15 late by 20 ms; masses of 20 to 40 kg at
random places) nothing failed and nothing warned. With 95 % confidence that is fewer than 1 false
alarm in 800 set-up checks.

## What cannot be told apart

- A device that samples at 188 Hz and stamps its frames as if at 200 fails `rate` and `clock`.
- A standing mass has no sideways force: wrong sideways signs show on the slope, not on a level
  platform and not in the cells of a four-corner deck. A mass tests the platform it stands on:
  move it to test the others.
- While a channel of the loaded platform is dead, frozen or cut off, `signs`, `weight` and
  `position` are not run; while a sign is wrong, `position` is not; where one wrong gain explains
  weight and place, `weight` names it and `position` is not run.
- On tiles a place is known to a part of a tile only; two exchanged tiles that are each other's
  mirror image look like a mirrored deck.
- A moment origin displaced straight up or down does not show under a standing mass.
- One-way messages show how unevenly they arrive, not how long the shortest takes.

## The zero during a session

The zero taken here is in force until another check or the key `z` takes one on purpose; the next
run of the session begins with it. A slow drift, or a thing lying still, is followed by itself in
quiet moments, so that it does not spoil a pitch; how far the reading has moved since the zero was
taken is shown all the time, with a warning from 0.25 % of body weight, before it matters (0.5 %).

## Once a year

`moundfeed check --grid` compares a known mass on many spots and a list of masses with what the
deck reads: see [the yearly check](yearly-check.md).
"""


def page() -> str:
    """Return the page's text."""
    return "\n".join([_HEAD, "## The checks\n", *(_entry(c) for c in CHECKS), _TAIL])


def _entry(c: Check) -> str:
    lines = [
        f"### `{c.name}`: {c.title[0].lower()}{c.title[1:]}\n",
        f"- **Needs** {'; '.join(n.value for n in c.needs)}.",
        f"- **Limit** {c.limit}.",
        f"- **Why** {c.reason}",
        f"- **Source** {c.source}.",
    ]
    for status, sentence in c.sentences.items():
        if status is not Status.NOT_RUN:
            lines.append(f"- **{status.value}** {_example(sentence)}")
    return "\n".join(lines) + "\n"


def _example(sentence: str) -> str:
    """The sentence with its gaps marked as such."""
    return sentence.replace("{", "[").replace("}", "]")


if __name__ == "__main__":
    print(page(), end="")
