"""Rows mixed from nodes by weights, each row by itself: the same whatever rows stand beside it."""

from __future__ import annotations

from regen.physics._jit import jit

BLOCK = 512
"""Fields mixed at a time: those of all nodes stay in the processor's cache."""


@jit
def mix(weights, nodes, out):
    """Fill ``out`` (L, N) with weights (L, K) [-] times nodes (K, N) [any].

    A library's matrix product adds up in an order that depends on L; here it does not. Four nodes
    are taken at once, for speed.
    """
    rows, count = weights.shape
    fields = nodes.shape[1]
    fours = count - count % 4
    for start in range(0, fields, BLOCK):
        stop = min(start + BLOCK, fields)
        for n in range(rows):
            for i in range(start, stop):
                out[n, i] = 0.0
            for k in range(0, fours, 4):
                a, b, c, d = weights[n, k], weights[n, k + 1], weights[n, k + 2], weights[n, k + 3]
                for i in range(start, stop):
                    first = a * nodes[k, i] + b * nodes[k + 1, i]
                    out[n, i] += first + (c * nodes[k + 2, i] + d * nodes[k + 3, i])
            for k in range(fours, count):
                a = weights[n, k]
                for i in range(start, stop):
                    out[n, i] += a * nodes[k, i]
