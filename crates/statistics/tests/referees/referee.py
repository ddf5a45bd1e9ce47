"""Figures of scipy, statsmodels and mpmath for the questions on standard input.

One question a line: kind;case;list|list|... with lists parted by spaces.
One answer a line: case;quantity;value. A question this referee has no method
for is passed over. Run by the test live_referees.rs.
"""

import sys
import warnings

import mpmath
import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import integrate, odr, optimize, stats
from statsmodels.stats import inter_rater, proportion, weightstats
from statsmodels.stats.diagnostic import normal_ad
from statsmodels.stats.oneway import anova_oneway
from statsmodels.stats.power import TTestPower
from statsmodels.sandbox.stats.runs import runstest_1samp

warnings.simplefilter("ignore")
LINKS = {"logit": sm.families.links.Logit, "probit": sm.families.links.Probit,
         "cloglog": sm.families.links.CLogLog}


def tolerance_factor(n, content, confidence):
    n = n[0]
    delta = stats.norm.ppf(content[0]) * np.sqrt(n)
    yield "factor", stats.nct.ppf(confidence[0], n - 1, delta) / np.sqrt(n)


def two_sided_factor(n, content, confidence, factor):
    """Confidence that the given two-sided factor really has."""
    n, p, k = n[0], content[0], factor[0]

    def given(z):
        width = np.sqrt(stats.ncx2.ppf(p, 1, z * z / n))
        return stats.norm.pdf(z) * stats.chi2.sf((n - 1) * width * width / (k * k), n - 1)

    yield "confidence", 2 * integrate.quad(given, 0, 9, epsabs=1e-13, epsrel=1e-12, limit=400)[0]


def large_factor(n, excluded, confidence, factor):
    """One Newton step from the given factor, in 30 digits, by quadrature."""
    mpmath.mp.dps = 30
    nu = mpmath.mpf(n[0] - 1)
    delta = -mpmath.sqrt(2 * n[0]) * mpmath.erfinv(2 * mpmath.mpf(excluded[0]) - 1)
    x = mpmath.mpf(factor[0]) * mpmath.sqrt(n[0])
    constant = mpmath.log(2) + nu / 2 * mpmath.log(nu / 2) - mpmath.loggamma(nu / 2)

    def density(s):
        return mpmath.exp(constant + (nu - 1) * mpmath.log(s) - nu * s * s / 2)

    width = 1 / mpmath.sqrt(2 * nu)
    places = [max(mpmath.mpf("1e-9"), 1 + i * width) for i in range(-12, 13, 2)]
    places = sorted(set(places))
    # Where the normal factor passes from 0 to 1 the integrand bends.
    below = mpmath.quad(lambda s: density(s) * mpmath.ncdf(x * s - delta), places)
    slope = mpmath.quad(lambda s: density(s) * s * mpmath.npdf(x * s - delta), places)
    yield "factor", float((x - (below - mpmath.mpf(confidence[0])) / slope) / mpmath.sqrt(n[0]))


def noncentral_t(x, nu, delta):
    mpmath.mp.dps = 30
    x, nu, delta = (mpmath.mpf(v[0]) for v in (x, nu, delta))
    constant = mpmath.log(2) + nu / 2 * mpmath.log(nu / 2) - mpmath.loggamma(nu / 2)

    def term(s):
        return (mpmath.exp(constant + (nu - 1) * mpmath.log(s) - nu * s * s / 2)
                * mpmath.ncdf(x * s - delta))

    width = 1 / mpmath.sqrt(2 * nu)
    places = sorted({max(mpmath.mpf("1e-12"), 1 + i * width) for i in range(-14, 15)})
    yield "cumulative", float(mpmath.quad(term, places))


def distributions(t, nu, f, d1, d2, x, b, a, c):
    yield "t cumulative", stats.t.cdf(t[0], nu[0])
    yield "F survival", stats.f.sf(f[0], d1[0], d2[0])
    yield "chi-squared survival", stats.chi2.sf(x[0], nu[0])
    yield "beta quantile", stats.beta.ppf(b[0], a[0], c[0])


def proportion_bounds(hits, of, confidence):
    alpha = 1 - confidence[0]
    for name, method in [("exact", "beta"), ("Wilson", "wilson"), ("Jeffreys", "jeffreys")]:
        lower, upper = proportion.proportion_confint(hits[0], of[0], alpha, method)
        yield name + " lower", lower
        yield name + " upper", upper


def difference(a, m, b, n, confidence):
    low, upp = proportion.confint_proportions_2indep(
        a[0], m[0], b[0], n[0], compare="diff", method="newcomb", alpha=1 - confidence[0])
    yield "lower", low
    yield "upper", upp


def normality(values):
    w, p = stats.shapiro(values)
    yield "W", w
    yield "W p", p
    a, p = normal_ad(np.asarray(values))
    yield "A", a
    yield "A p", p


def order(values):
    tau = stats.kendalltau(range(len(values)), values, variant="b")
    n = len(values)
    ties = sum(c * (c - 1) / 2 for c in np.unique(values, return_counts=True)[1])
    pairs = n * (n - 1) / 2
    yield "Kendall S", tau.statistic * np.sqrt((pairs - ties) * pairs)
    yield "runs p", runstest_1samp(values, cutoff="median", correction=True)[1]


def grubbs(values, alpha):
    values, n = np.asarray(values), len(values)
    yield "G", np.max(np.abs(values - values.mean())) / values.std(ddof=1)
    for name, tail in [("one-sided", alpha[0] / n), ("two-sided", alpha[0] / (2 * n))]:
        t = stats.t.isf(tail, n - 2)
        yield name, (n - 1) / np.sqrt(n) * np.sqrt(t * t / (n - 2 + t * t))


def hit_miss(link, sizes, hits, of):
    x, hits, of = np.log(sizes), np.asarray(hits), np.asarray(of)
    family = sm.families.Binomial(LINKS[link[0]]())
    fit = sm.GLM(np.column_stack([hits, of - hits]), sm.add_constant(x), family=family).fit(
        tol=1e-14, maxiter=200)
    yield "intercept", fit.params[0]
    yield "slope", fit.params[1]
    yield "intercept error", fit.bse[0]
    yield "slope error", fit.bse[1]
    yield "deviance", fit.deviance


def several_columns(hits, of, first, second):
    hits, of = np.asarray(hits), np.asarray(of)
    design = sm.add_constant(np.column_stack([first, second]))
    fit = sm.GLM(np.column_stack([hits, of - hits]), design,
                 family=sm.families.Binomial()).fit(tol=1e-14, maxiter=200)
    for i in range(3):
        yield f"b{i}", fit.params[i]
        yield f"error {i}", fit.bse[i]


def line(x, y, weights):
    design = sm.add_constant(np.asarray(x))
    for name, fit in [("plain", sm.OLS(y, design).fit()),
                      ("weighted", sm.WLS(y, design, weights=weights).fit())]:
        yield name + " intercept", fit.params[0]
        yield name + " slope", fit.params[1]
        yield name + " slope error", fit.bse[1]
        yield name + " residual sd", np.sqrt(fit.mse_resid)
    plain = sm.OLS(y, design).fit()
    yield "slope p", plain.pvalues[1]
    square = sm.OLS(y, sm.add_constant(np.column_stack([x, np.square(x)]))).fit()
    yield "quadratic", square.params[2]
    yield "quadratic error", square.bse[2]


def both_axes(x, y, ratio, weights_x, weights_y):
    x, y = np.asarray(x), np.asarray(y)
    straight = odr.Model(lambda b, at: b[0] + b[1] * at)
    start = sm.OLS(y, sm.add_constant(x)).fit().params
    ways = {"Deming": odr.RealData(x, y, sx=np.ones_like(x), sy=np.sqrt(ratio[0]) * np.ones_like(y)),
            "York": odr.RealData(x, y, sx=1 / np.sqrt(weights_x), sy=1 / np.sqrt(weights_y))}
    for name, data in ways.items():
        out = odr.ODR(data, straight, beta0=start, sstol=1e-15, partol=1e-15, maxit=1000).run()
        yield name + " intercept", out.beta[0]
        yield name + " slope", out.beta[1]


def groups(*values):
    yield "classical F", stats.f_oneway(*values).statistic
    welch = anova_oneway(list(map(np.asarray, values)), use_var="unequal")
    yield "Welch F", welch.statistic
    yield "Welch p", welch.pvalue
    yield "Bartlett p", stats.bartlett(*values).pvalue


def restricted(*values):
    frame = pd.DataFrame([(g, v) for g, group in enumerate(values) for v in group],
                         columns=["group", "value"])
    model = sm.MixedLM.from_formula("value ~ 1", frame, groups=frame["group"])
    fit = model.fit(reml=True, method=["bfgs", "powell", "bfgs"], gtol=1e-10, maxiter=2000)
    yield "between", fit.cov_re.iloc[0, 0]
    yield "within", fit.scale
    yield "mean", fit.fe_params.iloc[0]
    yield "criterion", -2 * fit.llf


def equivalence(first, second, margin):
    first, second = np.asarray(first), np.asarray(second)
    yield "paired p", weightstats.ttost_paired(first, second, -margin[0], margin[0])[0]
    yield "groups p", weightstats.ttost_ind(first, second, -margin[0], margin[0],
                                            usevar="unequal")[0]


def power(n, effect, alpha):
    yield "power", TTestPower().power(effect[0], n[0], alpha[0], alternative="two-sided")


def box_cox(values):
    values = np.asarray(values)
    best = optimize.minimize_scalar(lambda power: -stats.boxcox_llf(power, values),
                                    bracket=(-2, 2), tol=1e-12)
    yield "lambda", best.x


def kappa(*table):
    answer = inter_rater.cohens_kappa(np.asarray(table), return_results=True)
    yield "Cohen", answer.kappa


def several_raters(*ratings):
    yield "Fleiss", inter_rater.fleiss_kappa(np.asarray(ratings))


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
            print(case, quantity, repr(float(value)), sep=";")
