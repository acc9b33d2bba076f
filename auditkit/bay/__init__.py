"""A repair recorded as it happens: what is asked of a person, and what it fills.

``fields`` says what each kind of event asks, ``filled`` makes the event of the answers.
Faces draw the first and hand in the second; both are pure.
"""
