"""Tablets at the bay, for ``bay.py``: what each asks for, and how long it waits."""

from __future__ import annotations

import http.client
import re
import time
from collections import defaultdict
from collections.abc import Iterator
from itertools import count
from urllib.parse import urlencode

from growth import PASSPHRASE, PERSON, events_of

HERE = "127.0.0.1"
HTTP_SEE_OTHER = 303
STEPS = 12  # entries of an order before the next is opened
FORM = "application/x-www-form-urlencoded"
OPENING = {
    "tool": "text adapter (invented)",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
    "is_so": "yes",  # a vehicle may have been here before
}
STEP = {
    "diagnosis": {
        "codes.0": "P0401",
        "suspect_parts.0.name": "EGR valve",
        "suspect_parts.0.system": "egr",
        "suspect_parts.0.where.0": "engine-bay",
        "reasoning": "EGR flow below its limit",
    },
    "code_clear": {"tool": "text adapter (invented)"},
}
TEST = {
    "part": "egr-valve",
    "method": "seal-hold",
    "unacknowledged": "yes",  # the cautions are another form's
    "setup": "removed",
    "readings.start pressure.unit": "inHg",
    "readings.end pressure.unit": "inHg",
    "conditions.start temperature.value": "19.0",
    "conditions.start temperature.unit": "degC",
    "conditions.end temperature.value": "19.2",
    "conditions.end temperature.unit": "degC",
    "readings.hold time.value": "60",
    "readings.hold time.unit": "s",
    "conditions.barometer.value": "98.2",
    "conditions.barometer.unit": "kPa",
    "conditions.pressure reference": "vacuum",
    "limit.minimum": "15.0",
    "limit.unit": "inHg",
    "limit.of": "end pressure",
    "limit.source": "page 4 of the invented workshop manual",
}


class Tablet:
    """A browser's connection; ``took`` is what was asked -> the seconds of each."""

    def __init__(self, port: int) -> None:
        self._made = http.client.HTTPConnection(HERE, port, timeout=60)
        self.took: dict[str, list[float]] = defaultdict(list)
        self._cookies: dict[str, str] = {}
        self._token = ""

    def ask(
        self, what: str, method: str, path: str, fields: dict | None = None
    ) -> tuple[int, str, str]:
        """Return status, where it leads, and the text of an answer."""
        cookies = "; ".join(f"{n}={v}" for n, v in self._cookies.items())
        body = None
        if fields is not None:
            body = urlencode({"form_token": self._token, **fields})
        begun = time.perf_counter()
        for _ in range(2):
            try:
                self._made.request(
                    method, path, body, {"Cookie": cookies, "Content-Type": FORM}
                )
                answer = self._made.getresponse()
                text = answer.read().decode()
                break
            except ConnectionError:
                self._made.close()  # idle for too long: a browser asks again too
        else:
            raise ConnectionError(path)
        self.took[what].append(time.perf_counter() - begun)
        for line in answer.headers.get_all("Set-Cookie") or ():
            name, _, value = line.partition(";")[0].partition("=")
            self._cookies[name] = value
        if found := re.search(r'name="form_token" value="([0-9a-f]+)"', text):
            self._token = found[1]
        return answer.status, answer.headers.get("Location", ""), text

    def sign_in(self) -> None:
        """Sign in, and load the list of orders."""
        word = {"person": PERSON, "passphrase": PASSPHRASE.decode()}
        status, _, text = self.ask("sign-in", "POST", "/sign-in", word)
        if status != HTTP_SEE_OTHER:
            raise ConnectionError(text)
        self.ask("list", "GET", "/orders")

    def record(self, path: str, fields: dict) -> None:
        """Send a form, which has to be recorded."""
        status, _, text = self.ask("form", "POST", path, fields)
        if status != HTTP_SEE_OTHER:
            told = re.sub(r"<[^>]+>", " ", text.partition("<main")[2])
            raise ConnectionError(f"{path}: {status}: {' '.join(told.split())[:900]}")


def opening(number: int, *, alike: bool) -> dict[str, str]:
    """Return what opens an order of a vehicle with VIN and counts of its own."""
    events = events_of(number, alike=alike)
    raw = next(e["raw"] for e in events if e["kind"] == "readout")
    odometer = str(100_000 + number % 800_000)
    return {**OPENING, "raw": raw, "vehicle.odometer.value": odometer}


def step(number: int, place: int, *, alike: bool) -> tuple[str, dict[str, str], str]:
    """Return kind, fields and what is asked for of a step of an order, from 1 on."""
    if place == 1:
        return "diagnosis", STEP["diagnosis"], ""
    if place % 4 != 2:  # the second, and each fourth after it
        return "code_clear", STEP["code_clear"], ""
    events = events_of(number + place, alike=alike)
    begun, ended = next(e for e in events if e["kind"] == "bench_test")["readings"][:2]
    read = {
        "readings.start pressure.value": begun["value"],
        "readings.end pressure.value": ended["value"],
    }
    return "bench_test", {**TEST, **read}, "?part=egr-valve&method=seal-hold"


def visits(
    tablet: Tablet, vehicles: Iterator[int], name: str, *, alike: bool
) -> Iterator[None]:
    """Record order after order, as a person does; yield after each touch."""
    for order in (f"{name}-{n}" for n in count(1)):
        number = next(vehicles)
        first = {"order": order, "once": f"{order}-0", **opening(number, alike=alike)}
        tablet.record("/new-order", first)
        for place in range(1, STEPS):
            kind, fields, asked = step(number, place, alike=alike)
            fields = {"once": f"{order}-{place}", **fields}
            page = tablet.ask("page", "GET", f"/orders/{order}")[2]
            entry = re.search(r"argument\?entry=(\d+)", page)
            for _ in range(2):
                where = f"/orders/{order}/argument?entry={entry[1] if entry else 0}"
                tablet.ask("news", "GET", where)
            path = f"/orders/{order}/add/{kind}"
            tablet.ask("page", "GET", f"{path}{asked}")
            for _ in range(3):
                tablet.ask("draft", "POST", f"/orders/{order}/draft/{kind}", fields)
                yield
            tablet.record(path, fields)
