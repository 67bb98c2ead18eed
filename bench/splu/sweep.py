"""The same sweep with scipy: every bus, every kind and phase combination, ten vantages.

Usage: python3 sweep.py MATRIX [BATCH]

MATRIX is written by
    go test ./fault -run TestWriteMatrix -matrix MATRIX -matrix-buses 20000

Only what the sweep needs is computed: one factorisation (ordering for a symmetric pattern, which
is the fastest of SuperLU's here), the watched rows by transposed solutions, and the 3×3 driving-point
block of every bus from batches of unit right-hand sides, of whose solutions only the block is kept.
The faults themselves are vectorised over all buses. Times exclude reading the file.
"""
import sys
import time

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu


def read(name):
    with open(name, "rb") as f:
        dim, entries, watched, row_entries = np.frombuffer(f.read(32), "<i8")
        kind = np.dtype([("r", "<i8"), ("c", "<i8"), ("re", "<f8"), ("im", "<f8")])
        a = np.frombuffer(f.read(int(entries) * 32), kind)
        w = np.frombuffer(f.read(int(row_entries) * 32), kind)
    matrix = coo_matrix((a["re"] + 1j * a["im"], (a["r"], a["c"])), shape=(dim, dim)).tocsc()
    rows = np.zeros((watched, dim), complex)
    rows[w["r"], w["c"]] = w["re"] + 1j * w["im"]
    return matrix, rows


def main():
    matrix, rows = read(sys.argv[1])
    batch = int(sys.argv[2]) if len(sys.argv) > 2 else 96
    dim = matrix.shape[0]
    buses = dim // 3
    start = time.perf_counter()
    lu = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    factored = time.perf_counter()
    watch = lu.solve(rows.T.copy(), "T").T  # watched quantity per injected ampere
    watched = time.perf_counter()
    z = np.empty((buses, 3, 3), complex)
    for first in range(0, dim, batch):
        last = min(first + batch, dim)
        rhs = np.zeros((dim, last - first), complex)
        rhs[np.arange(first, last), np.arange(last - first)] = 1
        x = lu.solve(rhs)
        for column in range(first, last):
            bus = column // 3
            z[bus, :, column % 3] = x[3 * bus:3 * bus + 3, column - first]
    blocks = time.perf_counter()
    a = np.exp(2j * np.pi / 3)
    v = 7200 * np.array([1, a * a, a])  # a flat state before the fault; its size does not change the work
    legs = []
    for p in range(3):
        e = np.zeros((3, 1)); e[p] = 1
        legs.append(e)  # lg
    for p, q in ((0, 1), (1, 2), (2, 0)):
        e = np.zeros((3, 1)); e[p], e[q] = 1, -1
        legs.append(e)  # ll
        g = np.zeros((3, 2)); g[p, 0], g[q, 0], g[q, 1] = 1, -1, 1
        legs.append(g)  # ll-g
    m = np.zeros((3, 2)); m[0, 0], m[1, 0], m[1, 1], m[2, 1] = 1, -1, 1, -1
    legs.append(m)  # 3ph
    legs.append(np.eye(3))  # 3ph-g
    w = watch.reshape(len(rows), buses, 3)
    largest = 0.0
    for c in legs:
        drive = np.broadcast_to((c.T @ v)[:, None], (buses, c.shape[1], 1))
        i = np.linalg.solve(c.T @ z @ c, drive)
        i = (c @ i)[:, :, 0]
        seen = -np.einsum("wbk,bk->wb", w, i)
        largest = max(largest, np.abs(seen[0]).max())
    end = time.perf_counter()
    print(f"{buses} buses: factorise {factored - start:.2f} s, watched rows {watched - factored:.2f} s, "
          f"driving-point blocks {blocks - watched:.2f} s, faults {end - blocks:.2f} s, all {end - start:.2f} s "
          f"(largest current at the first vantage {largest:.6g} A)")


main()
