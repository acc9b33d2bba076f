"""A repair recorded as it happens.

``fields`` says what each kind of event asks of a person, ``filled`` makes the event of
the answers; ``so_far`` says what the order shows, ``next_step`` what is due. Faces draw
these and hand the answers in; all of them are pure.
"""
