"""Simulators at work: a whole ward in one object, its devices at a broker, its days in a journal, hands in it."""
