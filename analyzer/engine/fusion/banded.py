"""Banded Cholesky for block-tridiagonal information matrices: solve, marginals, samples.

A node has B states; the information matrix of N nodes has diagonal blocks D (N, B, B) and lower blocks O (N-1, B, B) at
(i+1, i). LAPACK's band routines do the work, so time and memory grow linearly with N.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from analyzer.errors import EstimationError
from analyzer.model.arrays import FloatArray, IndexArray


@dataclass(frozen=True, slots=True, eq=False)
class BandFactor:
    """Lower Cholesky factor in band storage (2B, N*B): entry (r, c) is L[c + r, c]."""

    band: FloatArray
    nodes: int
    block: int

    def solve(self, rhs: FloatArray) -> FloatArray:
        """Return A^-1 rhs; `rhs` (N*B,) or (N*B, m)."""
        out, info = lapack.dpbtrs(self.band, rhs.reshape(len(rhs), -1), lower=1)
        if info != 0:
            raise EstimationError(where="fusion", what=f"band solve failed ({info})", do="report this run")
        return np.asarray(out, np.float64).reshape(rhs.shape)

    def forward(self, rhs: FloatArray) -> FloatArray:
        """Return L^-1 rhs: `rhs` (N*B,) or (N*B, m)."""
        return self._triangular(rhs, "N")

    def backward(self, rhs: FloatArray) -> FloatArray:
        """Return L^-T rhs: samples of covariance A^-1 when `rhs` is standard normal."""
        return self._triangular(rhs, "T")

    def _triangular(self, rhs: FloatArray, trans: str) -> FloatArray:
        out, info = lapack.dtbtrs(self.band, rhs.reshape(len(rhs), -1), uplo="L", trans=trans)
        if info != 0:
            raise EstimationError(where="fusion", what=f"band solve failed ({info})", do="report this run")
        return np.asarray(out, np.float64).reshape(rhs.shape)

    def part(self, first: int, nodes: int) -> "BandFactor":
        """Return the factor of `nodes` nodes from `first` on, which nothing couples to the rest."""
        return BandFactor(self.band[:, first * self.block : (first + nodes) * self.block], nodes, self.block)

    def log_determinant(self) -> float:
        """Return ln det A."""
        return 2.0 * float(np.sum(np.log(self.band[0])))

    def blocks(self) -> tuple[FloatArray, FloatArray]:
        """Return the diagonal (N, B, B) and lower (N-1, B, B) blocks of L."""
        n, b = self.nodes, self.block
        cols = _block_index(n, b)
        row_in, col_in = np.arange(b)[:, None], np.arange(b)[None, :]
        diag = np.where(row_in >= col_in, self.band[np.maximum(row_in - col_in, 0), cols[:, None, :]], 0.0)
        low = self.band[b + row_in - col_in, cols[:-1, None, :]]
        return diag, low

    def marginals(self) -> tuple[FloatArray, FloatArray]:
        """Return the diagonal (N, B, B) and lower (N-1, B, B) blocks of A^-1 (Takahashi's recursion by blocks)."""
        diag, low = self.blocks()
        inverse = np.linalg.inv(diag)
        own = np.swapaxes(inverse, 1, 2) @ inverse
        gain = low @ inverse[:-1]
        out = np.empty_like(own)
        out[-1] = own[-1]
        for i in range(self.nodes - 2, -1, -1):
            g = gain[i]
            out[i] = own[i] + g.T @ out[i + 1] @ g
        return out, -out[1:] @ gain


def _block_index(n: int, b: int) -> IndexArray:
    columns: IndexArray = (np.arange(n) * b)[:, None] + np.arange(b)[None, :]
    return columns


def factorize(diagonal: FloatArray, lower: FloatArray) -> BandFactor:
    """Return the factor of a block-tridiagonal matrix.

    Raises
    ------
    EstimationError
        Where the matrix is not positive definite: the evidence does not determine the path.
    """
    n, b, _ = diagonal.shape
    band = np.zeros((2 * b, n * b), order="F")
    view = band.reshape(2 * b, n, b)
    for col in range(b):
        view[: b - col, :, col] = diagonal[:, col:, col].T
        view[b - col : 2 * b - col, :-1, col] = lower[:, :, col].T
    factor, info = lapack.dpbtrf(band, lower=1, overwrite_ab=1)
    if info != 0:
        raise EstimationError(
            where="fusion",
            what="the evidence does not determine a path",
            do="check the track for long gaps and repeated times",
        )
    return BandFactor(band=factor, nodes=n, block=b)


def block_product(diagonal: FloatArray, lower: FloatArray, x: FloatArray) -> FloatArray:
    """Return A x for x (..., N, B)."""
    out: FloatArray = np.einsum("...nij,...nj->...ni", diagonal, x)
    out[..., 1:, :] += np.einsum("...nij,...nj->...ni", lower, x[..., :-1, :])
    out[..., :-1, :] += np.einsum("...nji,...nj->...ni", lower, x[..., 1:, :])
    return out
