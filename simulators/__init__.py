"""Invented mounds: bodies that pitch with known truth, other people, and devices with faults."""
