"""Shared by the tests of each kind of bench test: readings to change. All invented."""

from bench_inputs import GAUGE, given, instrument, limit

from auditkit.bench import KINDS

PSI = instrument("psi (gauge)", "300", "0.1", "0.5")
VOLTS = instrument("V", "20", "0.001", "0.005")
AMPS = instrument("A", "200", "0.1", "0.5")


def evaluate(kind: str, inputs):
    return KINDS[kind].evaluate(inputs)


def value(result, name: str) -> float:
    """Return a computed value by the beginning of its name."""
    found = [s for s in (result.result, *result.others) if s.name.startswith(name)]
    return float(found[0].value.text)


def hold(end="8.5 inH2O", *, at_end="20 degC", seconds="120 s", **more):
    readings = {"start pressure": "14.0 inH2O", "end pressure": end}
    conditions = {
        "pressure reference": "gauge",
        "start temperature": "20 degC",
        "end temperature": at_end,
        "barometer": "1013.25 hPa",
        "vapour volume": "40 L",
        "uncertainty of vapour volume": "2 L",
        "standard temperature": "20 degC",
        **more.pop("conditions", {}),
    }
    readings |= {"hold time": seconds, **more.pop("readings", {})}
    instruments = more.pop("instruments", {"gauge": GAUGE, "thermometer": FINE})
    return given(readings, conditions, instruments, **more)


FINE = instrument("degC", "110", "0.001", "0.002")
AT_LEAST_8 = limit("inH2O", low="8.0")


def drop(volts="0.20 V", amps="100 A", **more):
    return given(
        {"voltage drop": volts, "load current": amps},
        {"rated current": "150 A"},
        {"meter": VOLTS, "clamp": AMPS},
        **more,
    )
