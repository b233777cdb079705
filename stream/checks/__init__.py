"""The set-up check: one registry of checks over frozen evidence, without input or output.

`evidence` holds what was seen, `survey` finds it in a feed, `procedure` asks
a person for it step by step, `guided` is that as the core runs it, `running`
what every core has of it; each check of the `registry` turns the evidence into
a finding, and its `run` into sentences.
"""
