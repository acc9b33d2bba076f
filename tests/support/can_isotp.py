"""can-isotp, another implementation of ISO 15765-2, as a reference."""

import isotp

from auditkit.obd import transcript


def reference(own: int, who: int, items, errors=None) -> list[bytes]:
    """Return the messages that can-isotp finds in the frames of one responder."""
    told = [] if errors is None else errors
    frames = [i for i in items if getattr(i, "responder", "") == f"{who:03X}"]
    queue = [
        isotp.CanMessage(arbitration_id=who, data=f.data)
        for f in frames
        if isinstance(f, transcript.Frame)
    ]
    layer = isotp.TransportLayerLogic(
        rxfn=lambda timeout: queue.pop(0) if queue else None,
        txfn=lambda message: None,
        address=isotp.Address(isotp.AddressingMode.Normal_11bits, txid=own, rxid=who),
        params={"listen_mode": True},
        error_handler=told.append,
    )
    found = []
    while queue:
        layer.process()
        while layer.available():
            found.append(bytes(layer.recv()))
    return found
