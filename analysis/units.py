"""Factors of units that stand in files beside the SI."""

from __future__ import annotations

MPH_MPS = 0.44704  # NIST SP 811 (2008), appendix B.8
