"""The outside world: broker, wire format, journal, screens' feed, command line."""
