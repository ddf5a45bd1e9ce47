"""Figures of scipy and statsmodels for models with several variances.

One question a line: kind;case;list|list|... with lists parted by spaces.
One answer a line: case;quantity;value. Every likelihood is written out here
from its definition: whole covariance matrices, integrals as plain sums.
Run by the test live_models.rs.
"""

import sys
import warnings

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import interpolate, optimize, special, stats

warnings.simplefilter("ignore")


def climb(loss, start, simplex=800):
    """Smallest value: quasi-Newton, a simplex, quasi-Newton again."""
    best = optimize.minimize(loss, start, method="BFGS", options={"gtol": 1e-6}).x
    best = optimize.minimize(loss, best, method="Nelder-Mead",
                             options={"xatol": 1e-9, "fatol": 1e-12, "maxfev": simplex}).x
    return optimize.minimize(loss, best, method="BFGS", options={"gtol": 1e-8}).x


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


def exact_place(x, y, threshold, probability, confidence):
    """Size found with a probability on a line of single readings: estimate,
    and its upper bound by scipy's noncentral t of the line's height."""
    x, y = np.asarray(x), np.asarray(y)
    slope, intercept = np.polyfit(x, y, 1)
    rest = y - intercept - slope * x
    df = len(x) - 2
    scatter = np.sqrt(rest @ rest / df)
    z = stats.norm.ppf(probability[0])

    def excess(place):
        root = np.sqrt(1 / len(x) + (place - x.mean()) ** 2 / np.sum((x - x.mean()) ** 2))
        height = intercept + slope * place - threshold[0]
        return stats.nct.sf(height / (scatter * root), df, z / root) - (1 - confidence[0])

    estimate = (threshold[0] + z * scatter - intercept) / slope
    yield "estimate", estimate
    yield "upper", optimize.brentq(excess, estimate, estimate + np.ptp(x), xtol=1e-14, rtol=1e-14)


def spread_factor(kind, exponent, x, mean, reference):
    if kind == "size":
        return np.exp(exponent * (x - reference))
    if kind == "power":
        return np.where(mean > 0, np.abs(mean) / reference, np.nan) ** exponent
    return np.ones_like(x)


def censored_units(kind, x, y, state, units, reference, start):
    """Own likelihood: state 0 read, -1 below, 1 above; the effect of a unit
    with several censored readings is integrated as a plain sum."""
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
                sign, determinant = np.linalg.slogdet(cov)
                total -= 0.5 * (determinant + z @ np.linalg.solve(cov, z) + n * np.log(2 * np.pi))
                solved = np.linalg.solve(cov, h[read] * between)
                place, variance = solved @ z, 1 - solved @ (h[read] * between)
            if ends.any():
                cut = (y[ends] - mean[ends]) / h[ends]
                side = -state[ends]

                if ends.sum() == 1 or between == 0.0:
                    total += np.sum(stats.norm.logcdf(
                        side * (cut - between * place)
                        / np.sqrt(within**2 + between**2 * variance)))
                else:
                    # The plain sum of a smooth bell, 1201 strips.
                    s = np.sqrt(variance)
                    v = place + s * np.linspace(-9, 9, 1201)
                    arg = side[:, None] * (cut[:, None] - between * v[None, :]) / within
                    weight = special.ndtr(arg).prod(axis=0) * np.exp(-0.5 * ((v - place) / s)**2)
                    total += np.log(weight.sum() * (v[1] - v[0]) / (s * np.sqrt(2 * np.pi)))
        return -total

    best = climb(loss, start)
    yield "log-likelihood", -loss(best)
    yield "intercept", best[0]
    yield "slope", best[1]
    yield "within", np.exp(best[2])
    if several:
        yield "between", abs(best[3])
    if kind != "constant":
        yield "exponent", best[-1]


def joined(x, y, state):
    """Line of read (state 0) and judged units (1 a hit at y, -1 a miss): the
    likelihood of both kinds, of the readings alone and of the hits alone."""
    x, y, state = map(np.asarray, (x, y, state))
    read = state == 0

    def loss(p, hits=True):
        mean, sd = p[0] + p[1] * x, np.exp(p[2])
        total = np.sum(stats.norm.logpdf(y[read], mean[read], sd))
        if hits:
            total += np.sum(stats.norm.logcdf(state * (mean - y) / sd)[~read])
        return -total

    start = [np.mean(y), 1.0, np.log(np.std(y) + 0.1)]
    best = climb(loss, start)
    alone = climb(lambda p: loss(p, False), start)
    hits = sm.GLM((state[~read] > 0).astype(float), sm.add_constant(x[~read]),
                  family=sm.families.Binomial(sm.families.links.Probit())).fit(tol=1e-12, maxiter=200)
    yield "intercept", best[0]
    yield "slope", best[1]
    yield "scatter", np.exp(best[2])
    yield "log-likelihood", -loss(best)
    ratio = 2 * (-loss(alone, False) + hits.llf + loss(best))
    yield "ratio", ratio
    yield "p", stats.chi2.sf(ratio, 2)


def joint_t(correlation, df, low, high):
    """Multivariate t within limits: over the common scale as a plain sum, over
    the normals by scipy."""
    m, df = len(low), df[0]
    matrix = np.asarray(correlation).reshape(m, m)
    z = np.linspace(-7, 7, 201)
    w = stats.norm.pdf(z) * (z[1] - z[0])
    scale = np.sqrt(np.where(z < 0, stats.chi2.ppf(special.ndtr(z), df),
                             stats.chi2.isf(special.ndtr(-z), df)) / df)
    cut = lambda v: np.clip(v, -40, 40)
    normal = stats.multivariate_normal(np.zeros(m), matrix, allow_singular=True)
    yield "within", sum(
        weight * normal.cdf(cut(s * np.asarray(high)), lower_limit=cut(s * np.asarray(low)))
        for s, weight in zip(scale, w))


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
        return (np.sum(special.xlogy(hits, p) + special.xlogy(of - hits, 1 - p))
                + special.xlogy(blank[0], floor) + special.xlogy(blank[1] - blank[0], 1 - floor))

    def share(u):
        return 1 / (1 + np.exp(-u))

    best = climb(lambda p: -value(share(p[2]), p[0], p[1]),
                 [-3.0 * np.mean(x), 3.0, -2.5])
    top = value(share(best[2]), best[0], best[1])
    yield "floor", share(best[2])
    yield "intercept", best[0]
    yield "slope", best[1]
    yield "log-likelihood", top
    yield "a90", np.exp((line(0.9) - best[0]) / best[1])
    drop = stats.norm.ppf(0.95) ** 2 / 2
    state = {"p": [best[1], best[2]]}

    def excess(place):
        found = climb(lambda p: -value(share(p[1]), line(0.9) - p[0] * place, p[0]), state["p"],
                      simplex=150)
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

    # Normal scores of both sums of squares, plain sums over a fine grid.
    z = np.linspace(-7, 7, 1201)
    w = stats.norm.pdf(z) * (z[1] - z[0])

    def squares(df):
        return np.where(z < 0, stats.chi2.ppf(special.ndtr(z), df),
                        stats.chi2.isf(special.ndtr(-z), df))

    a = (s1**2 * squares(n - 1) / (n - 1) / n)[:, None]
    b = (s2**2 * squares(m - 1) / (m - 1) / m)[None, :]
    df = (a + b) ** 2 / (a**2 / (n - 1) + b**2 / (m - 1))
    # The quantile varies slowly with the degrees of freedom: a spline of it.
    grid = np.linspace(np.log(df.min() * 0.999), np.log(df.max() * 1.001), 400)
    cuts = {}
    for name, tail in [("two", alpha / 2), ("one", alpha)]:
        spline = interpolate.CubicSpline(grid, stats.t.isf(tail, np.exp(grid)))
        cuts[name] = spline(np.log(df)) * np.sqrt(a + b)
    both = w[:, None] * w[None, :]
    seen = special.ndtr((d - cuts["two"]) / tau) + special.ndtr((-cuts["two"] - d) / tau)
    yield "difference", np.sum(both * seen)
    room = margin - cuts["one"]
    shown = special.ndtr((room - d) / tau) - special.ndtr((-room - d) / tau)
    yield "equivalence", np.sum(both * np.where(room > 0, shown, 0.0))


def copula(kinds, first, second, rho):
    """Correlation of the copula that gives two distributions theirs: plain
    sums over both normal scores."""
    def marginal(kind, p):
        law = {"rectangular": lambda: stats.uniform(p[0], p[1] - p[0]),
               "triangular": lambda: stats.triang(0.5, p[0], p[1] - p[0]),
               "normal": lambda: stats.norm(p[0], p[1]),
               "t": lambda: stats.t(p[2], p[0], p[1])}[kind]()
        # Each half from its own tail, so that no probability rounds to one.
        return (lambda z: np.where(z < 0, law.ppf(special.ndtr(z)), law.isf(special.ndtr(-z))),
                law.mean(), law.std())

    (f, mean_f, sd_f), (g, mean_g, sd_g) = marginal(kinds[0], first), marginal(kinds[1], second)
    z = np.linspace(-8.5, 8.5, 171)
    w = stats.norm.pdf(z)
    w = w / w.sum()
    a = f(z)

    def reached(r):
        b = g(r * z[:, None] + np.sqrt(1 - r * r) * z[None, :])
        return (np.sum(w[:, None] * w[None, :] * a[:, None] * b) - mean_f * mean_g) / (sd_f * sd_g)

    yield "copula", optimize.brentq(lambda r: reached(r) - rho[0], -0.99, 0.99, xtol=1e-10)


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
