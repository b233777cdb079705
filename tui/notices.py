"""What stands in the feed line beside the feed: words that several places know."""

from __future__ import annotations

#: A session that is played on this computer, everything in it made up.
DEMO_NOTICE = "DEMO, invented data"
#: How the key of the sentence begins that says that no set-up check was made yet.
NO_CHECK = "no check "
