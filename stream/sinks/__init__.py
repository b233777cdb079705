"""Where results go: JSON Lines on disk, and messages published over ZeroMQ or MQTT."""
