"""The banded factor against dense numpy on random block-tridiagonal matrices."""

import numpy as np
import pytest

from analyzer.engine.fusion.banded import block_product, factorize
from analyzer.errors import EstimationError

SIZES = [(1, 3), (2, 1), (2, 10), (7, 5), (40, 10)]


def random_blocks(n, b, seed):
    """Return blocks of L L^T + I for a random block-bidiagonal L: symmetric, positive definite, block-tridiagonal."""
    rng = np.random.default_rng(seed)
    own, low = rng.standard_normal((n, b, b)), rng.standard_normal((n - 1, b, b))
    diagonal = own @ np.swapaxes(own, 1, 2) + np.eye(b)
    diagonal[1:] += low @ np.swapaxes(low, 1, 2)
    return diagonal, low @ np.swapaxes(own[:-1], 1, 2)


def dense(diagonal, lower):
    n, b, _ = diagonal.shape
    out = np.zeros((n * b, n * b))
    for i in range(n):
        out[i * b : (i + 1) * b, i * b : (i + 1) * b] = diagonal[i]
    for i in range(n - 1):
        out[(i + 1) * b : (i + 2) * b, i * b : (i + 1) * b] = lower[i]
        out[i * b : (i + 1) * b, (i + 1) * b : (i + 2) * b] = lower[i].T
    return out


def block(matrix, i, j, b):
    return matrix[i * b : (i + 1) * b, j * b : (j + 1) * b]


@pytest.fixture(params=SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def case(request):
    n, b = request.param
    diagonal, lower = random_blocks(n, b, seed=n * 100 + b)
    return n, b, diagonal, lower, dense(diagonal, lower)


def test_solve_is_that_of_the_dense_matrix(case):
    n, b, diagonal, lower, full = case
    factor = factorize(diagonal, lower)
    rng = np.random.default_rng(1)
    one, many = rng.standard_normal(n * b), rng.standard_normal((n * b, 4))
    np.testing.assert_allclose(factor.solve(one), np.linalg.solve(full, one), rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(factor.solve(many), np.linalg.solve(full, many), rtol=1e-9, atol=1e-12)


def test_solving_leaves_the_right_hand_side_as_it_was(case):
    n, b, diagonal, lower, _ = case
    rhs = np.asfortranarray(np.random.default_rng(2).standard_normal((n * b, 3)))
    before = rhs.copy()
    factor = factorize(diagonal, lower)
    factor.solve(rhs)
    factor.backward(rhs)
    assert np.array_equal(rhs, before)


def test_factor_is_the_cholesky_factor(case):
    n, b, diagonal, lower, full = case
    chol = np.linalg.cholesky(full)
    own, below = factorize(diagonal, lower).blocks()
    assert own.shape == (n, b, b)
    assert below.shape == (n - 1, b, b)
    for i in range(n):
        np.testing.assert_allclose(own[i], block(chol, i, i, b), rtol=1e-9, atol=1e-11)
    for i in range(n - 1):
        np.testing.assert_allclose(below[i], block(chol, i + 1, i, b), rtol=1e-9, atol=1e-11)


def test_backward_is_the_inverse_of_the_transposed_factor(case):
    n, b, diagonal, lower, full = case
    rhs = np.random.default_rng(3).standard_normal((n * b, 2))
    expected = np.linalg.solve(np.linalg.cholesky(full).T, rhs)
    np.testing.assert_allclose(factorize(diagonal, lower).backward(rhs), expected, rtol=1e-9, atol=1e-11)


def test_backward_of_the_identity_gives_the_covariance(case):
    n, b, diagonal, lower, full = case
    half = factorize(diagonal, lower).backward(np.eye(n * b))
    np.testing.assert_allclose(half @ half.T, np.linalg.inv(full), rtol=1e-8, atol=1e-11)


def test_log_determinant(case):
    _, _, diagonal, lower, full = case
    sign, expected = np.linalg.slogdet(full)
    assert sign == 1.0
    assert factorize(diagonal, lower).log_determinant() == pytest.approx(expected, rel=1e-12, abs=1e-9)


def test_marginals_are_blocks_of_the_dense_inverse(case):
    n, b, diagonal, lower, full = case
    inverse = np.linalg.inv(full)
    own, below = factorize(diagonal, lower).marginals()
    assert below.shape == (n - 1, b, b)
    for i in range(n):
        np.testing.assert_allclose(own[i], block(inverse, i, i, b), rtol=1e-8, atol=1e-11)
    for i in range(n - 1):
        np.testing.assert_allclose(below[i], block(inverse, i + 1, i, b), rtol=1e-8, atol=1e-11)


def test_block_product_is_the_dense_product(case):
    n, b, diagonal, lower, full = case
    x = np.random.default_rng(4).standard_normal((n, b))
    np.testing.assert_allclose(block_product(diagonal, lower, x).ravel(), full @ x.ravel(), rtol=1e-12, atol=1e-10)


@pytest.mark.parametrize("bad", [-1.0, 0.0])
def test_a_matrix_that_is_not_positive_definite_is_told(bad):
    diagonal, lower = random_blocks(5, 3, seed=0)
    diagonal = diagonal.copy()
    diagonal[3] = bad * np.eye(3)
    with pytest.raises(EstimationError, match="does not determine a path"):
        factorize(diagonal, lower)


def test_factorizing_leaves_the_matrix_as_it_was():
    diagonal, lower = random_blocks(5, 3, seed=0)
    copies = diagonal.copy(), lower.copy()
    factorize(diagonal, lower)
    assert np.array_equal(diagonal, copies[0])
    assert np.array_equal(lower, copies[1])
