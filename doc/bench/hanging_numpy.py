"""A million trials of the seven-input hanging weighing with numpy, to time against.

The same model, inputs and number of trials as BenchmarkPlainMillion in the package
uncertainty: 95 % interval of a density by plain random trials (JCGM 101:2008).

    python3 doc/bench/hanging_numpy.py
    go test ./uncertainty -run '^$' -bench PlainMillion
"""

import time

import numpy as np

TRIALS = 1_000_000


def tanaka(t):
    """Air-free water in kg/m3 (Tanaka et al., Metrologia 38 (2001) 301, eq. 1)."""
    d = t - 3.983035
    return 999.974950 * (1 - d * d * (t + 301.797) / (522528.9 * (t + 69.34881)))


def interval(rng):
    air_reading = rng.normal(12.4431, 0.0002, TRIALS) + rng.uniform(-5e-5, 5e-5, TRIALS)
    liquid_reading = rng.normal(11.6472, 0.0004, TRIALS) + rng.uniform(-5e-5, 5e-5, TRIALS)
    water = tanaka(rng.normal(21.4, 0.1, TRIALS)) + rng.normal(0, 0.01, TRIALS)
    air = rng.normal(1.2, 0.01, TRIALS)
    density = air_reading / (air_reading - liquid_reading) * (water - air) + air
    low, high = np.percentile(density, [2.5, 97.5])
    return density.mean(), density.std(ddof=1), low, high


def main():
    rng = np.random.default_rng(1)
    interval(rng)
    times = []
    for _ in range(15):
        start = time.perf_counter()
        y, u, low, high = interval(rng)
        times.append(time.perf_counter() - start)
    print(f"numpy {np.__version__}: {y:.3f} kg/m3, u {u:.3f}, 95 % {low:.3f} to {high:.3f}")
    print(f"best {1000 * min(times):.1f} ms, median {1000 * sorted(times)[len(times) // 2]:.1f} ms")


main()
