"""The plain yardstick in numpy and pandas, timed: district mean ± 2 SD of the last seven nights, for
each of the last 28 nights of a sheet. Prints seconds and how many flags there were.

    python3 tests/chains/yardstick.py sheet.csv
"""

import sys
import time

import numpy as np
import pandas as pd

begun = time.perf_counter()
sheet = pd.read_csv(sys.argv[1])
sheet = sheet[sheet.status == "open"].copy()
sheet["business_date"] = pd.to_datetime(sheet.business_date)
sheet["beyond"] = sheet.usage_actual_kg - sheet.usage_theoretical_kg
measures = [
    ("beyond", "usage_theoretical_kg", 1),
    ("waste_kg", "usage_theoretical_kg", 1),
    ("fried_kg", "raw_kg", -1),
    ("tickets_over_target", "tickets", 1),
]
flags = 0
last = sheet.business_date.max()
for back in range(28):
    as_of = last - pd.Timedelta(days=back)
    week = sheet[(sheet.business_date > as_of - pd.Timedelta(days=7)) & (sheet.business_date <= as_of)]
    sums = week.groupby(["district", "store"]).sum(numeric_only=True)
    for over, under, worse in measures:
        ratio = worse * sums[over] / sums[under]
        by_district = ratio.groupby("district")
        z = (ratio - by_district.transform("mean")) / by_district.transform("std")
        flags += int(np.sum(z > 2))
print(f"{time.perf_counter() - begun:.3f} s, {flags} flags")
