"""A simulation at work: to a broker in real time or faster, into a journal, or by hand."""
