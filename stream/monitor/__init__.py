"""The monitor's process: it receives, records, measures, publishes and serves the screens."""
