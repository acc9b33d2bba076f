"""A bench test of every kind, all invented."""

from bench_inputs import GAUGE, THERMOMETER, each, given, instrument, limit

from auditkit.bench import BenchInput, KnownGood

FINE = instrument("degC", "110", "0.001", "0.002")
OHMS = instrument("ohm", "40000", "0.01", "0.05")
VOLTS = instrument("V", "20", "0.001", "0.005")
AMPS = instrument("A", "200", "0.1", "0.5")
KPA = instrument("kPa (gauge)", "300", "0.01", "0.1")


def hold(**more) -> BenchInput:
    return given(
        {
            "start pressure": "14.0 inH2O",
            "end pressure": "8.5 inH2O",
            "hold time": "120 s",
            "pressure during hold": each("13.0 11.8 9.8 8.9 inH2O"),
            "time during hold": each("20 40 80 110 s"),
        },
        {
            "pressure reference": "gauge",
            "start temperature": "20 degC",
            "end temperature": "20.1 degC",
            "barometer": "1013.25 hPa",
        },
        {"gauge": GAUGE, "thermometer": FINE},
        **{"limit": limit("inH2O", low="8.0"), **more},
    )


def coil(**more) -> BenchInput:
    return given(
        {"resistance": "14.00 ohm"},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": OHMS, "thermometer": THERMOMETER},
        **{"limit": limit("ohm", "11", "13"), **more},
    )


def cylinders(bound) -> BenchInput:
    return given(
        {"reading of each member": each("168 172 165 170 118 171 kPa")},
        {"pressure reference": "gauge"},
        {"gauge": KPA},
        limit=bound,
    )


CASES = {
    "seal-hold": hold(),
    "flow-at-pressure": given(
        {"flow": "0.50 L/min", "inlet pressure": "3.5 kPa (gauge)"},
        {
            "gas temperature": "20 degC",
            "barometer": "101.325 kPa",
            "gas": "nitrogen",
            "standard temperature": "20 degC",
        },
        {
            "meter": instrument("L/min", "2", "0.01", "0.01"),
            "gauge": instrument("kPa (gauge)", "10", "0.01", "0.03"),
            "thermometer": THERMOMETER,
        },
        limit=limit("in", high="0.020", of="effective leak diameter"),
    ),
    "direct-reading": given(
        {"resistance": "86 ohm"},
        {},
        {"meter": OHMS},
        limit=limit("ohm", "4", "14"),
    ),
    "winding": coil(known_good=KnownGood("shelf part", {"resistance": each("12 ohm")})),
    "voltage-drop": given(
        {"voltage drop": "0.20 V", "load current": "100 A"},
        {"rated current": "150 A"},
        {"meter": VOLTS, "clamp": AMPS},
        limit=limit("V", high="0.5"),
    ),
    "switching-point": given(
        {"temperature": each("88.0 88.2 87.9 degC")},
        {"event": "opens", "approach": "rising"},
        {"bath": instrument("degC", "150", "0.1", "1")},
        limit=limit("degC", "86", "90"),
    ),
    "temperature-sensor": given(
        {
            "sensor resistance": each("12535.33 3588.18 1500.5 ohm"),
            "bath temperature": each("20.0 50.0 75.0 degC"),
        },
        {"curve": "beta", "resistance at 25 celsius": "10 kohm", "beta": "3950 K"},
        {"meter": OHMS, "thermometer": THERMOMETER},
        limit=limit("K", "-2", "2"),
    ),
    "linear-transfer": given(
        {
            "stimulus": each("20 40 60 80 100 kPa (absolute)"),
            "output": each("0.79 1.59 2.49 3.20 3.99 V"),
        },
        {
            "specified stimulus low": "20 kPa (absolute)",
            "specified stimulus high": "100 kPa (absolute)",
            "specified output low": "0.8 V",
            "specified output high": "4.0 V",
        },
        {"pump": instrument("kPa", "200", "0.1", "0.3"), "meter": VOLTS},
        limit=limit("V", "-0.1", "0.1"),
    ),
    "balance": cylinders(limit("%", low="75")),
    "stored-energy": given(
        {"voltage": each("12.5 9.2 V"), "hold time": "15 s"},
        {"temperature": "21 degC", "load current": "300 A"},
        {"meter": VOLTS, "thermometer": THERMOMETER},
        limit=limit("V", low="9.6"),
    ),
    "intermittent": given(
        {
            "seen with stimulus": "3 times",
            "tries with stimulus": "10 times",
            "seen without stimulus": "0 times",
            "tries without stimulus": "10 times",
        },
        {"stimulus": "wiggle"},
        {},
    ),
    "known-good-swap": given(
        {
            "seen before swap": "4 times",
            "tries before swap": "10 times",
            "seen at new place of part": "5 times",
            "tries at new place of part": "10 times",
            "seen at old place of part": "0 times",
            "tries at old place of part": "10 times",
        },
        {},
        {},
    ),
}
