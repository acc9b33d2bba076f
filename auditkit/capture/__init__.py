"""Reading a vehicle, or a log of one, into the text that ``auditkit.obd`` decodes.

``plan`` says what to ask next and is pure; ``session`` asks it over a CAN interface;
``logfile`` reads what another tool logged. Only the last two need python-can, and they
import it when they are called.
"""
