#!/usr/bin/python3
"""Reference values for record/stats, from Debian 12's python3-scipy 1.10.1 and
python3-statsmodels 0.13.5. Run: /usr/bin/python3 reference.py > reference.json"""
import json
import numpy as np, scipy, statsmodels
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

rng = np.random.default_rng(7)
out = {"scipy": scipy.__version__, "statsmodels": statsmodels.__version__}

# Garwood: exact Poisson interval by chi-squared quantiles
out["garwood"] = []
for n, a in [(0, 2.5), (1, 1.0), (3, 4.2), (17, 80.0), (240, 311.5)]:
    lo = stats.chi2.ppf(.025, 2 * n) / 2 / a if n else 0.0
    out["garwood"].append([n, a, lo, stats.chi2.ppf(.975, 2 * (n + 1)) / 2 / a])

# paired test, interval of the mean, sign test
d = np.round(rng.normal(-.8, 1.7, 23), 3)
t, p = stats.ttest_1samp(d, 0)
lo, hi = stats.t.interval(.95, len(d) - 1, loc=d.mean(), scale=stats.sem(d))
out["paired"] = {"diff": d.tolist(), "t": t, "p": p, "low": lo, "high": hi,
                 "sign_p": stats.binomtest(int((d > 0).sum()), int((d != 0).sum())).pvalue}

# Wilson
out["wilson"] = [[k, n, *proportion_confint(k, n, method="wilson")] for k, n in [(0, 5), (3, 10), (40, 41), (120, 400)]]

# Holm
ps = [0.01, 0.04, 0.03, 0.005, 0.5, 0.02]
out["holm"] = {"p": ps, "adjusted": multipletests(ps, method="holm")[1].tolist()}

# negative binomial, equal areas: the estimate is the maximum-likelihood one whatever the
# dispersion, and its standard error that of the GLM with the dispersion held. The
# dispersion by moments is the one at which Pearson's chi-squared (with k/(k-1) folded in) is met.
n = rng.negative_binomial(2, .25, 40)
a = 2.5
r = n.sum() / (a * len(n))
mu = np.full(len(n), r * a)
phi = (((n - mu) ** 2).sum() * len(n) / (len(n) - 1) - mu.sum()) / (mu ** 2).sum()
m = sm.GLM(n, np.ones(len(n)), family=sm.families.NegativeBinomial(alpha=phi), offset=np.log(np.full(len(n), a))).fit()
se, q = m.bse[0], stats.t.ppf(.975, len(n) - 1)
out["nb"] = {"n": n.tolist(), "a": a, "phi": phi, "rate": float(np.exp(m.params[0])), "low": float(np.exp(m.params[0] - q * se)), "high": float(np.exp(m.params[0] + q * se))}

# negative binomial, unequal areas: dispersion by full maximum likelihood, for order of size
aa = rng.uniform(1.5, 5.5, 200)
nn = rng.poisson(3.1 * aa * rng.gamma(1 / .4, .4, 200))
ml = sm.NegativeBinomial(nn, np.ones(200), exposure=aa).fit(disp=0)
ci = np.exp(ml.conf_int()[0])
out["nb_ml"] = {"n": nn.tolist(), "a": aa.tolist(), "phi": float(ml.params[1]), "rate": float(np.exp(ml.params[0])), "low": float(ci[0]), "high": float(ci[1])}

# two groups of lots: ratio estimator, Welch
def logvar(n, a):
    r, k = n.sum() / a.sum(), len(n)
    v = max(((n - r * a) ** 2).sum() * k / (k - 1) / a.sum() ** 2, r / a.sum())
    return r, v / r ** 2
n1, a1 = np.array([30., 41, 25, 38]), np.array([20., 22, 19, 21])
n2, a2 = np.array([60., 48, 75]), np.array([21., 20, 23])
(r1, v1), (r2, v2) = logvar(n1, a1), logvar(n2, a2)
df = (v1 + v2) ** 2 / (v1 ** 2 / 3 + v2 ** 2 / 2)
tt = np.log(r1 / r2) / np.sqrt(v1 + v2)
out["ratio"] = {"n1": n1.tolist(), "a1": a1.tolist(), "n2": n2.tolist(), "a2": a2.tolist(), "ratio": r1 / r2, "p": 2 * stats.t.sf(abs(tt), df),
                "low": float(r1 / r2 * np.exp(-stats.t.ppf(.975, df) * np.sqrt(v1 + v2)))}

# Poisson tails (places), Kendall's trend
out["tail"] = [[k, mu, stats.poisson.sf(k - 1, mu)] for k, mu in [(1, .1), (5, .8), (11, .2), (40, 33.3)]]
u = [1.4, 1.5, 1.54, 1.1, .74, 1.0, 1.75, 1.52, 1.58, 1.84]
out["kendall"] = {"u": u, "p_exact": stats.kendalltau(range(len(u)), u).pvalue}
print(json.dumps(out, indent=1))
