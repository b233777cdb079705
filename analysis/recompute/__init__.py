"""Many stored sessions measured again: on one processor, on several, or on a cluster."""
