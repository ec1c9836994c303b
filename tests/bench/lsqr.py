"""lsqr.py - the same equations by the lsqr of SciPy: the point solution only, timed"""
import sys
import time

import numpy
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import lsqr

data = open(sys.argv[1], "rb")
m, n, entries = numpy.fromfile(data, numpy.uint64, 3).astype(int)
first = numpy.fromfile(data, numpy.int32, m + 1)
column = numpy.fromfile(data, numpy.int32, entries)
value = numpy.fromfile(data, numpy.float64, entries)
y = numpy.fromfile(data, numpy.float64, m)
a = csr_matrix((value, column, first), (m, n))
seconds = 0.0
for _ in range(3):  # as in peers.c
    if seconds < 0.25:
        start = time.process_time()
        lsqr(a, y, atol=1e-10, btol=1e-10)
        seconds = time.process_time() - start
print("%.6f" % seconds)
