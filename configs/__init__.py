"""Layouts, rosters and settings that ship with the product."""
