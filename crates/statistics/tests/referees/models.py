"""Figures of scipy and statsmodels for models with several variances.

One question a line: kind;case;list|list|... with lists parted by spaces.
One answer a line: case;quantity;value. Every likelihood is written out here
from its definition: whole covariance matrices, integrals by scipy's quadrature.
Run by the test live_models.rs.
"""

import sys
import warnings

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import integrate, optimize, stats

warnings.simplefilter("ignore")


def climb(loss, start):
    """Smallest value from several methods, one after the other."""
    best = np.asarray(start, float)
    for _ in range(3):
        for method in ("Nelder-Mead", "BFGS"):
            options = ({"xatol": 1e-11, "fatol": 1e-13, "maxiter": 20000, "maxfev": 20000}
                       if method == "Nelder-Mead" else {"gtol": 1e-9})
            best = optimize.minimize(loss, best, method=method, options=options).x
    return best


def unit_effects(x, y, units):
    """statsmodels' mixed model of a line with one effect for each unit."""
    frame = pd.DataFrame({"x": x, "y": y, "unit": units})
    model = sm.MixedLM.from_formula("y ~ x", frame, groups=frame["unit"])
    fit = model.fit(reml=False, method=["bfgs", "powell", "bfgs"], gtol=1e-10, maxiter=2000)
    yield "intercept", fit.fe_params.iloc[0]
    yield "slope", fit.fe_params.iloc[1]
    yield "between", np.sqrt(fit.cov_re.iloc[0, 0])
    yield "within", np.sqrt(fit.scale)
    yield "log-likelihood", fit.llf


def spread_factor(kind, exponent, x, mean, reference):
    if kind == "size":
        return np.exp(exponent * (x - reference))
    if kind == "power":
        return np.where(mean > 0, np.abs(mean) / reference, np.nan) ** exponent
    return np.ones_like(x)


def censored_units(kind, x, y, state, units, reference, start):
    """Own likelihood: state 0 read, -1 below, 1 above; the effect of a unit
    with several censored readings is integrated by adaptive quadrature."""
    kind, x, y, state, units = kind[0], *map(np.asarray, (x, y, state, units))
    several = len(np.unique(units)) < len(units)

    def loss(p):
        b0, b1, within = p[0], p[1], np.exp(p[2])
        between = abs(p[3]) if several else 0.0
        exponent = p[-1] if kind != "constant" else 0.0
        mean = b0 + b1 * x
        h = spread_factor(kind, exponent, x, mean, reference[0])
        if not np.all(np.isfinite(h)):
            return 1e10
        total = 0.0
        for unit in np.unique(units):
            at = units == unit
            read, ends = at & (state == 0), at & (state != 0)
            n = read.sum()
            z = (y[read] - mean[read])
            place, variance = 0.0, 1.0
            if n:
                cov = np.outer(h[read], h[read]) * (between**2 + within**2 * np.eye(n))
                total += stats.multivariate_normal(np.zeros(n), cov).logpdf(z)
                solved = np.linalg.solve(cov, h[read] * between)
                place, variance = solved @ z, 1 - solved @ (h[read] * between)
            if ends.any():
                cut = (y[ends] - mean[ends]) / h[ends]
                side = -state[ends]

                def inside(v):
                    return np.prod(stats.norm.cdf(side * (cut - between * v) / within))

                if ends.sum() == 1 or between == 0.0:
                    total += np.sum(stats.norm.logcdf(
                        side * (cut - between * place)
                        / np.sqrt(within**2 + between**2 * variance)))
                else:
                    s = np.sqrt(variance)
                    value = integrate.quad(
                        lambda v: inside(v) * stats.norm.pdf(v, place, s),
                        place - 9 * s, place + 9 * s, epsabs=1e-14, epsrel=1e-11, limit=200)[0]
                    total += np.log(value)
        return -total

    # One climb from the start given: the referee's own summit, no more.
    best = optimize.minimize(loss, start, method="BFGS", options={"gtol": 1e-7})
    best = optimize.minimize(loss, best.x, method="Nelder-Mead",
                             options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 1500}).x
    yield "log-likelihood", -loss(best)
    yield "intercept", best[0]
    yield "slope", best[1]
    yield "within", np.exp(best[2])
    if several:
        yield "between", abs(best[3])
    if kind != "constant":
        yield "exponent", best[-1]


LINKS = {"logit": lambda t: 1 / (1 + np.exp(-t)), "probit": stats.norm.cdf,
         "cloglog": lambda t: -np.expm1(-np.exp(t))}
LINES = {"logit": lambda p: np.log(p / (1 - p)), "probit": stats.norm.ppf,
         "cloglog": lambda p: np.log(-np.log1p(-p))}


def false_calls(link, x, hits, of, blank):
    """Curve above a floor, its likelihood, and the profile bound of a90."""
    x, hits, of = map(np.asarray, (x, hits, of))
    curve, line = LINKS[link[0]], LINES[link[0]]

    def value(floor, b0, b1):
        p = np.clip(floor + (1 - floor) * curve(b0 + b1 * x), 1e-300, 1 - 1e-16)
        return (np.sum(stats.binom.logpmf(hits, of, p))
                + stats.binom.logpmf(blank[0], blank[1], floor))

    constant = (np.sum(stats.binom.logpmf(hits, of, hits / of)
                       - np.where(hits > 0, hits * np.log(np.maximum(hits, 1) / of), 0)
                       - np.where(hits < of, (of - hits) * np.log(np.maximum(of - hits, 1) / of), 0))
                + stats.binom.logpmf(blank[0], blank[1], 0.5) - blank[1] * np.log(0.5))

    def share(u):
        return 1 / (1 + np.exp(-u))

    best = climb(lambda p: -value(share(p[2]), p[0], p[1]),
                 [-3.0 * np.mean(x), 3.0, -2.5])
    top = value(share(best[2]), best[0], best[1])
    yield "floor", share(best[2])
    yield "intercept", best[0]
    yield "slope", best[1]
    yield "log-likelihood", top - constant
    yield "a90", np.exp((line(0.9) - best[0]) / best[1])
    drop = stats.norm.ppf(0.95) ** 2 / 2
    state = {"p": [best[1], best[2]]}

    def excess(place):
        found = climb(lambda p: -value(share(p[1]), line(0.9) - p[0] * place, p[0]), state["p"])
        state["p"] = found
        return top - value(share(found[1]), line(0.9) - found[0] * place, found[0]) - drop

    low = (line(0.9) - best[0]) / best[1]
    high = low + 0.05
    while excess(high) < 0:
        high += 0.1
    yield "a90/95", np.exp(optimize.brentq(excess, low, high, xtol=1e-9))


def random_factors(y, *factors):
    """Restricted likelihood with the whole covariance matrix."""
    y, n = np.asarray(y), len(y)
    blocks = [np.equal.outer(f, f).astype(float) for f in map(np.asarray, factors)]
    ones = np.ones(n)

    def criterion(logs):
        v = np.exp(2 * logs[-1]) * np.eye(n)
        for block, log in zip(blocks, logs):
            v = v + np.exp(2 * log) * block
        sign, determinant = np.linalg.slogdet(v)
        solved = np.linalg.solve(v, np.column_stack([ones, y]))
        weight = ones @ solved[:, 0]
        mean = ones @ solved[:, 1] / weight
        rest = y - mean
        return (determinant + np.log(weight) + rest @ np.linalg.solve(v, rest)
                + (n - 1) * np.log(2 * np.pi))

    start = [np.log(np.std(y))] * (len(blocks) + 1)
    best = climb(criterion, start)
    yield "criterion", criterion(best)
    for k, log in enumerate(best):
        yield f"variance {k}", np.exp(2 * log)


def crossed_in_statsmodels(y, rows, columns):
    """statsmodels' mixed model with crossed components in one group."""
    frame = pd.DataFrame({"y": y, "a": rows, "b": columns, "one": 1})
    model = sm.MixedLM.from_formula("y ~ 1", frame, groups="one", re_formula="0",
                                    vc_formula={"a": "0 + C(a)", "b": "0 + C(b)"})
    fit = model.fit(reml=True, method=["bfgs", "powell", "bfgs"], gtol=1e-9, maxiter=2000)
    yield "variance 0", fit.vcomp[0]
    yield "variance 1", fit.vcomp[1]
    yield "variance 2", fit.scale
    yield "criterion", -2 * fit.llf


def welch_power(n, m, s1, s2, difference, alpha, margin):
    """Power of Welch's test and of two one-sided ones: double integral over
    both variances."""
    n, m, s1, s2, d, alpha, margin = (v[0] for v in (n, m, s1, s2, difference, alpha, margin))
    tau = np.sqrt(s1**2 / n + s2**2 / m)

    def given(q1, q2, two_sided):
        a, b = s1**2 * q1 / (n - 1) / n, s2**2 * q2 / (m - 1) / m
        df = (a + b) ** 2 / (a**2 / (n - 1) + b**2 / (m - 1))
        if two_sided:
            cut = stats.t.isf(alpha / 2, df) * np.sqrt(a + b)
            return stats.norm.sf((cut - d) / tau) + stats.norm.cdf((-cut - d) / tau)
        cut = stats.t.isf(alpha, df) * np.sqrt(a + b)
        if cut >= margin:
            return 0.0
        return stats.norm.cdf((margin - cut - d) / tau) - stats.norm.cdf((cut - margin - d) / tau)

    # Gauss-Laguerre in both chi-squared variables.
    from scipy.special import roots_genlaguerre
    q1, w1 = roots_genlaguerre(120, (n - 1) / 2 - 1)
    q2, w2 = roots_genlaguerre(120, (m - 1) / 2 - 1)
    w1, w2 = w1 / w1.sum(), w2 / w2.sum()
    for name, two_sided in [("difference", True), ("equivalence", False)]:
        yield name, sum(a * b * given(2 * x, 2 * y, two_sided)
                        for x, a in zip(q1, w1) if a > 1e-16
                        for y, b in zip(q2, w2) if b > 1e-16)


def copula(kinds, first, second, rho):
    """Correlation of the copula that gives two distributions theirs."""
    def marginal(kind, p):
        return {"rectangular": lambda u: stats.uniform.ppf(u, p[0], p[1] - p[0]),
                "triangular": lambda u: stats.triang.ppf(u, 0.5, p[0], p[1] - p[0]),
                "normal": lambda u: stats.norm.ppf(u, p[0], p[1]),
                "t": lambda u: stats.t.ppf(u, p[2], p[0], p[1])}[kind]

    f, g = marginal(kinds[0], first), marginal(kinds[1], second)
    z, w = np.polynomial.hermite_e.hermegauss(80)
    w = w / w.sum()
    mean = [np.sum(w * k(stats.norm.cdf(z))) for k in (f, g)]
    sd = [np.sqrt(np.sum(w * k(stats.norm.cdf(z)) ** 2) - m**2) for k, m in zip((f, g), mean)]

    def reached(r):
        a = f(stats.norm.cdf(z))[:, None]
        b = g(stats.norm.cdf(r * z[:, None] + np.sqrt(1 - r * r) * z[None, :]))
        return (np.sum(w[:, None] * w[None, :] * a * b) - mean[0] * mean[1]) / (sd[0] * sd[1])

    yield "copula", optimize.brentq(lambda r: reached(r) - rho[0], -0.9999, 0.9999, xtol=1e-12)


KINDS = {name.replace("_", " "): function for name, function in list(globals().items())
         if callable(function) and getattr(function, "__module__", None) == "__main__"}


def read(text):
    try:
        return [float(v) for v in text.split()]
    except ValueError:
        return text.split()


for question in sys.stdin:
    kind, case, lists = question.rstrip("\n").split(";")
    if kind in KINDS:
        for quantity, value in KINDS[kind](*map(read, lists.split("|"))):
            print(case, quantity, repr(float(value)), sep=";", flush=True)
