"""What people read: numbers with unit and ±, names of faults and body parts, and the sentences that are made of them.

Every module that shows something takes its words from here, so that one number looks the same everywhere, and a translation
has one place to begin.
"""
