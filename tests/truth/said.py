"""What an invented vehicle says: requests and answers, from few words, and back.

A readout is a list of ``[request, [(responder, payload), ...]]``, so that one byte can
be changed; ``text_of`` writes it as an adapter does, ``parsed`` reads that back. Forms:
ISO 15765-2 for CAN; three header bytes and a sum for buses before it (ISO 9141-2).
"""

import re

from vehicles import frames

Said = list[list]
ENGINE = "7E8"
LIVE = {"rpm": 1840, "load": 42, "coolant": 91, "speed": 62}
FRAME = {"rpm": 1800, "load": 40, "coolant": 92, "speed": 60}
_LETTERS = "PCBU"


def word(number: int, size: int = 2) -> bytes:
    return (number % 256**size).to_bytes(size, "big")


def code_bytes(code: str) -> bytes:
    """Return the two bytes of a code (SAE J2012)."""
    return word(_LETTERS.index(code[0]) << 14 | int(code[1:], 16))


def _pids(values: dict) -> dict[str, bytes]:
    """Return PIDs 04, 05, 0C and 0D (ISO 15031-5:2006 Annex B)."""
    return {
        "04": bytes([round(values["load"] * 255 / 100)]),
        "05": bytes([values["coolant"] + 40]),
        "0C": word(values["rpm"] * 4),
        "0D": bytes([values["speed"]]),
    }


def readout(job: dict, state: dict) -> Said:
    """Return what the vehicle of a job says in a state of it."""
    main, other = ENGINE, job.get("module", ENGINE)
    said: Said = []

    def ask(request: str, *answers: tuple[str, bytes]) -> None:
        said.append([request, [(who, payload) for who, payload in answers]])

    def pid(name: str, data: bytes) -> None:
        ask(f"01{name}", (main, bytes.fromhex(f"41{name}") + data))

    pid("00", bytes.fromhex("BE1FA813"))
    listed = state["confirmed"] if other == main else state["engine_codes"]
    kind = (0x0F, 0xEB) if job.get("diesel") else (0x07, 0xE5)
    pid("01", bytes([len(listed) | 0x80 * state["lamp"], *kind, 0]))
    pid("1C", bytes([0x06 if job.get("eobd") else 0x01]))
    pid("1F", word(0 if not state["live"]["rpm"] else 900))
    counts = () if job.get("no_counts") else (("30", 1), ("31", 2), ("4E", 2))
    for name, size in counts:
        pid(name, word(state["counts"][name], size))
    pid("A6", word(state["odometer"], 4))
    for name, data in _pids(state["live"]).items():
        pid(name, data)
    if not job.get("uds"):
        _codes(job, state, ask, main, other)
    if state["frame"] and not job.get("uds"):
        ask("020200", (main, b"\x42\x02\x00" + code_bytes(job["codes"][0])))
        for name, data in _pids(state["frame"]).items():
            ask(f"02{name}00", (main, bytes.fromhex(f"42{name}00") + data))
    for mid, tid, scaling, *words in state["tests"]:
        head = bytes.fromhex("46" + mid + tid + scaling)
        ask(f"06{mid}", (main, head + b"".join(map(word, words))))
    if job.get("status") or job.get("uds"):
        at = [state["status"][c] for c in job["codes"]]
        body = b"".join(
            code_bytes(c) + b"\0" + bytes([s])
            for c, s in zip(job["codes"], at, strict=True)
        )
        ask("1902FF", (other, b"\x59\x02\xff" + (body if any(at) else b"")))
        ask("190A", (other, b"\x59\x0a\xff" + body))
    if not job.get("no_vin"):
        ask("0902", (main, b"\x49\x02\x01" + state["vin"].encode()))
    if not job.get("kline"):
        calibration = state["calibration"].encode().ljust(16, b"\0")
        ask("0904", (main, b"\x49\x04\x01" + calibration))
        ask("0906", (main, b"\x49\x06\x01" + bytes.fromhex(state["cvn"])))
        info = 0x0B if job.get("diesel") else 0x08
        counters = b"".join(map(word, state["counters"]))
        ask(f"09{info:02X}", (main, bytes([0x49, info, 16]) + counters))
    return [_as_uds(*one) for one in said] if job.get("uds") else said


def _codes(job, state, ask, main, other) -> None:
    """Ask services 03, 07 and 0A; each module answers for itself."""
    lists = {
        "03": state["confirmed"],
        "07": state["pending"],
        "0A": state["permanent"],
    }
    for service, codes in lists.items():
        if service == "0A" and (job.get("eobd") or job.get("kline")):
            continue
        head = bytes([int(service, 16) + 0x40])

        def payload(found, head=head) -> bytes:
            count = b"" if job.get("kline") else bytes([len(found)])
            body = b"".join(map(code_bytes, found))
            return head + count + (body.ljust(6, b"\0") if not count else body)

        if other == main:
            ask(service, (main, payload(codes)))
        else:
            own = state["engine_codes"] if service == "03" else ()
            emission = [c for c in codes if c[0] in "PU"]
            answers = [(main, payload(own))]
            if other == "7E9":
                answers.append((other, payload(emission)))
            ask(service, *answers)


def _as_uds(request: str, answers: list) -> list:
    """Return a request of services 01 and 09 as service 22 asks it (SAE J1979-2)."""
    start = {"01": "F4", "09": "F8"}.get(request[:2])
    if start is None:
        return [request, answers]
    head = bytes.fromhex("62" + start + request[2:])
    skip = 3 if request[:2] == "09" and request[2:] in {"02", "04", "06"} else 2
    return [f"22{start}{request[2:]}", [(w, head + p[skip:]) for w, p in answers]]


def text_of(said: Said, *, kline: bool = False) -> str:
    """Return a readout as a text adapter gives it."""
    lines: list[str] = []
    for request, answers in said:
        lines.append(f"> {request}")
        for who, payload in answers:
            if kline:
                whole = b"\x48\x6b\x10" + payload
                whole += bytes([sum(whole) & 0xFF])
                lines.append(whole.hex(" ").upper())
            else:
                lines += frames(who, payload)
    return "\n".join(lines) + "\n"


def parsed(text: str) -> Said:
    """Return a readout on CAN from its text."""
    said: Said = []
    for block in re.split("(?m)^> ", text)[1:]:
        request, *lines = block.split("\n")
        whole: dict[str, tuple[int, bytes]] = {}
        for line in filter(None, lines):
            who, *digits = line.split()
            data = bytes.fromhex("".join(digits))
            if data[0] >> 4 == 0:
                whole[who] = (data[0], data[1:])
            elif data[0] >> 4 == 1:
                whole[who] = ((data[0] & 15) << 8 | data[1], data[2:])
            else:
                size, start = whole[who]
                whole[who] = (size, start + data[1:])
        said.append([request, [(w, d[:n]) for w, (n, d) in whole.items()]])
    return said
