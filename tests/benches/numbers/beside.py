#!/usr/bin/env python3
"""k-means of scikit-learn on rows of 64-bit numbers, with one thread and with two.

usage: beside.py FILE COLUMNS CLUSTERS     (Python 3 with numpy, scikit-learn and threadpoolctl, which it brings along)
Prints milliseconds and the sum of squares of ten starts; the median and the range of five seeds.
"""
import sys
import time

import numpy
from sklearn.cluster import KMeans
from threadpoolctl import threadpool_limits

rows = numpy.fromfile(sys.argv[1]).reshape(-1, int(sys.argv[2]))
for threads in (1, 2):
    times, sums = [], []
    for seed in range(5):
        with threadpool_limits(limits=threads):
            began = time.perf_counter()
            fit = KMeans(n_clusters=int(sys.argv[3]), n_init=10, random_state=seed).fit(rows)
            times.append(1e3 * (time.perf_counter() - began))
        sums.append(fit.inertia_)
    print(f"  scikit-learn, {threads} threads: {sorted(times)[len(times) // 2]:.0f} ms, "
          f"sum of squares {sorted(sums)[len(sums) // 2]:.2f} ({min(sums):.2f} to {max(sums):.2f}, {len(times)} seeds)")
