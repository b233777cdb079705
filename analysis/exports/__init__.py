"""Sessions and recordings for other programs: tables, traces, C3D files."""
