"""Penalised logistic regression on an offset, as detect.Learn fits it, by
scipy.optimize.minimize (Debian 12: python3-scipy 1.10.1). Prints the weights."""
import json
import sys

import numpy as np
from scipy.optimize import minimize

d = json.load(open(sys.argv[1]))
x, y = np.array(d["x"]), np.array(d["real"], float)
sd = np.full(x.shape[1], d["sd"])
sd[0] = d["bias_sd"]


def loss(w):
    z = x[:, 1] + x @ w
    return np.sum(np.logaddexp(0, z) - y * z) + np.sum((w / sd) ** 2) / 2


def slope(w):
    z = x[:, 1] + x @ w
    return x.T @ (1 / (1 + np.exp(-z)) - y) + w / sd**2


print(json.dumps(list(minimize(loss, np.zeros(x.shape[1]), jac=slope, method="BFGS", options={"gtol": 1e-8}).x)))
