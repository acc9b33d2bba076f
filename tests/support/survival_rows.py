"""How long was followed, as (time, whether it came back): published and invented."""

from hypothesis import strategies as st

# Freireich et al. 1963, Blood 21:699: remission in weeks under 6-MP, False where it was
# still on; as reprinted in Cox and Oakes, Analysis of Survival Data (from memory).
LEUKAEMIA = [
    *((6, True),) * 3,
    *((7, True), (10, True), (13, True), (16, True), (22, True), (23, True)),
    *((t, False) for t in (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)),
]
# The same trial's control group, all ended (from memory).
CONTROL = [
    (t, True)
    for t in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
]
# Three invented shops: days, and whether it came back.
SHOPS = {
    "A": ([10, 25, 40, 60, 90, 120, 180, 180, 180, 200], "1101010000"),
    "B": ([5, 8, 15, 30, 33, 50, 70, 180, 180, 190], "1110111000"),
    "C": ([20, 45, 100, 150, 160, 180, 180, 180, 180, 210], "0110100000"),
}
FOLLOWED = st.lists(
    st.tuples(st.integers(0, 40), st.booleans()), min_size=1, max_size=60
)


def shop(name):
    times, ended = SHOPS[name]
    return [(t, e == "1") for t, e in zip(times, ended, strict=True)]
