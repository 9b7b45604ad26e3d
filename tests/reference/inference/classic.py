"""The classic networks carried by a registry package, checked by two libraries.

    pip install pgmpy pyagrum
    python tests/reference/inference/classic.py [net ...]

Reads the networks that the pgmpy wheel carries (`utils/example_models`, gzipped BIF); nothing is fetched. Every
column is divided by its sum in double precision, since published files round their figures (the largest departure from
1 is written down). The nets are built in pgmpy and pyAgrum from these columns through their interfaces, in double
precision; both compute posteriors and the probability of the evidence, and must agree to 1e-12. The result is one JSON
file a net in `classic/`, read by `tests/inference_classic.rs`.

Nets of many-valued variables become binary by breaking a stick: a variable with k values becomes k - 1 bits. Bit i is
present exactly when the variable has value i; given that an earlier bit is present it is impossible, otherwise its
chance is that of value i among the values from i on. No bit present means the last value.

Form of a file:

- `bits`: in an order where parents come first. `name`; `not`: earlier bits of the same variable, any of which rules
  this one out; `of`: a list of groups, the bits of each parent; `present`: chance of being present for each combination
  of the parents' values (value i: bit i of the group present; last value: none), the last group changing fastest.
  Combinations with two bits of one group present do not occur.
- `cases`: `evidence`: bit and 1 (present) or 0; `chance`: of the evidence; `targets`: bits; `present`: their posteriors;
  `apart`: the most by which the two libraries differ in this case.
"""

import gzip
import json
import logging
import math
import os
import random
import sys
import warnings

import numpy as np
import pgmpy
import pyagrum as gum
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork
from pgmpy.readwrite import BIFReader

warnings.filterwarnings("ignore")
logging.disable(logging.WARNING)

AGREE = 1e-12
FOLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "classic")
MODELS = os.path.join(os.path.dirname(pgmpy.__file__), "utils", "example_models")
NETS = ["asia", "cancer", "earthquake", "survey", "sachs", "child", "alarm", "insurance", "hepar2", "win95pts", "andes"]
# Posteriors of so many variables in one case, beyond those always asked for.
TARGETS = 24
# Cases of printed or otherwise interesting evidence; more are drawn from the net.
CASES = {
    "asia": [{"asia": "yes", "dysp": "yes"}, {"asia": "yes", "dysp": "yes", "xray": "yes"}, {"xray": "yes", "smoke": "no"}],
    "cancer": [
        {"Dyspnoea": "True"},
        {"Smoker": "True"},
        {"Smoker": "True", "Dyspnoea": "True"},
        {"Xray": "positive", "Dyspnoea": "True"},
    ],
    "earthquake": [{"JohnCalls": "True", "MaryCalls": "True"}],
    "alarm": [{"HRBP": "HIGH", "CO": "LOW", "BP": "LOW"}, {"PRESS": "HIGH", "EXPCO2": "LOW", "MINVOL": "ZERO"}],
    "win95pts": [
        {"Problem1": "No_Output"},
        {"Problem1": "No_Output", "PrtStatPaper": "No_Error", "PrtStatOff": "No_Error", "REPEAT": "Yes__Always_the_Same_"},
        {"Problem2": "Too_Long"},
    ],
    "hepar2": [
        {"jaundice": "present", "fatigue": "present", "itching": "present"},
        {"alcoholism": "present", "edema": "present", "ascites": "present", "bilirubin": "a19_7"},
    ],
    "insurance": [{"Accident": "Severe", "Age": "Adolescent"}],
}
ALWAYS = {
    "win95pts": ["PrtOn", "PrtPaper", "PrtDriver", "DskLocal", "AppOK", "NetPrint", "LclOK", "PrtSpool", "PrtMem"],
    "hepar2": ["PBC", "Steatosis", "THepatitis", "RHepatitis", "Cirrhosis"],
}


class Net:
    """Variables in an order where parents come first: values, parents, and columns that sum to 1."""

    def __init__(self, name):
        self.name = name
        with gzip.open(os.path.join(MODELS, name + ".bif.gz"), "rt") as file:
            read = BIFReader(string=file.read()).get_model()
        tables = {t.variable: t for t in read.get_cpds()}
        self.order, self.values, self.parents, self.table = [], {}, {}, {}
        self.departure = 0.0
        waiting = list(read.nodes())
        while waiting:
            ready = [v for v in waiting if all(p in self.values for p in tables[v].variables[1:])]
            for v in ready:
                t = tables[v]
                self.order.append(v)
                self.values[v] = [str(s) for s in t.state_names[v]]
                self.parents[v] = [str(p) for p in t.variables[1:]]
                for p, names in zip(t.variables[1:], [t.state_names[p] for p in t.variables[1:]]):
                    assert [str(s) for s in names] == self.values[p], (v, p)
                columns = np.array(t.values, dtype=np.float64).reshape(len(self.values[v]), -1)
                sums = columns.sum(axis=0)
                self.departure = max(self.departure, float(abs(sums - 1.0).max()))
                self.table[v] = columns / sums
            waiting = [v for v in waiting if v not in ready]

    def size(self, v):
        return len(self.values[v])

    def pgmpy(self):
        model = DiscreteBayesianNetwork()
        model.add_nodes_from(self.order)
        model.add_edges_from([(p, v) for v in self.order for p in self.parents[v]])
        for v in self.order:
            ps = self.parents[v]
            names = {u: self.values[u] for u in [v, *ps]}
            model.add_cpds(TabularCPD(v, self.size(v), self.table[v], ps, [self.size(p) for p in ps], state_names=names))
        return model

    def pyagrum(self):
        bn = gum.BayesNet(self.name)
        for v in self.order:
            bn.add(gum.LabelizedVariable(v, v, self.values[v]))
        for v in self.order:
            for p in self.parents[v]:
                bn.addArc(p, v)
            # Each axis put where the library keeps it, so nothing hangs on an order of parents.
            axes = {u: i for i, u in enumerate([v, *self.parents[v]])}
            cube = self.table[v].reshape([self.size(v)] + [self.size(p) for p in self.parents[v]])
            cpt = bn.cpt(v)
            # Filled in the order of `names`, the first changing fastest.
            wanted = [axes[u] for u in cpt.names]
            cpt.fillWith(cube.transpose(wanted[::-1]).reshape(-1).tolist())
        return bn

    def draw(self, r):
        state = {}
        for v in self.order:
            column = 0
            for p in self.parents[v]:
                column = column * self.size(p) + state[p]
            u, i = r.random(), 0
            while i + 1 < self.size(v) and u >= self.table[v][i, column]:
                u -= self.table[v][i, column]
                i += 1
            state[v] = i
        return {v: self.values[v][i] for v, i in state.items()}


def evidence_cases(net):
    """No evidence, the cases above, and four drawn: of leaves, and of anything."""
    cases = [{}] + CASES.get(net.name, [])
    r = random.Random("cases of " + net.name)
    inner = {p for v in net.order for p in net.parents[v]}
    leaves = [v for v in net.order if v not in inner]
    for pool in (leaves, leaves, net.order, net.order):
        state = net.draw(r)
        seen = r.sample(pool, min(len(pool), r.randint(2, 6)))
        case = {v: state[v] for v in seen}
        if case not in cases:
            cases.append(case)
    return cases


def targets(net, evidence):
    r = random.Random("targets of " + net.name)
    pick = set(ALWAYS.get(net.name, [])) | set(r.sample(net.order, min(TARGETS, len(net.order))))
    return [v for v in net.order if v in pick and v not in evidence]


def by_pgmpy(net, model, evidence, wanted):
    engine = VariableElimination(model)
    chance, given = 1.0, {}
    for v, value in evidence.items():
        factor = engine.query([v], evidence=given, show_progress=False)
        chance *= float(factor.values[factor.state_names[v].index(value)])
        given[v] = value
    posteriors = {}
    for v in wanted:
        factor = engine.query([v], evidence=evidence, show_progress=False)
        posteriors[v] = [float(factor.values[factor.state_names[v].index(s)]) for s in net.values[v]]
    return chance, posteriors


def by_pyagrum(net, bn, evidence, wanted):
    engine = gum.LazyPropagation(bn)
    engine.setEvidence(evidence)
    engine.setTargets(set(wanted))
    engine.makeInference()
    chance = engine.evidenceProbability() if evidence else 1.0
    posteriors = {}
    for v in wanted:
        factor = engine.posterior(v)
        posteriors[v] = [float(factor[{v: s}]) for s in net.values[v]]
    return chance, posteriors


def short(x):
    """The shortest decimal that is the same to thirteen digits."""
    return float(f"{x:.13g}")


def number(x):
    return int(x) if x in (0.0, 1.0) else short(x)


def bits(net):
    """The net as bits, and the bits of each variable."""
    out, of = [], {}
    for v in net.order:
        of[v] = []
        for i in range(net.size(v) - 1):
            # What is left from value i on, added up from the small end.
            left = net.table[v][i:][::-1].sum(axis=0)
            chance = np.divide(net.table[v][i], left, out=np.zeros_like(left), where=left > 0.0)
            out.append({
                "name": f"{v}={net.values[v][i]}",
                "not": list(of[v]),
                "of": [of[p] for p in net.parents[v]],
                "present": [number(min(1.0, c)) for c in chance],
            })
            of[v].append(len(out) - 1)
    return out, of


def as_bits(net, of, v, value):
    """Evidence on bits that says the variable has this value."""
    i = net.values[v].index(value)
    return [[b, int(j == i)] for j, b in enumerate(of[v]) if j <= i]


def main():
    version = pgmpy.__version__
    total = 0
    for name in sys.argv[1:] or NETS:
        net = Net(name)
        model, bn = net.pgmpy(), net.pyagrum()
        net_bits, of = bits(net)
        cases, worst = [], 0.0
        for evidence in evidence_cases(net):
            wanted = targets(net, evidence)
            chance_a, a = by_pgmpy(net, model, evidence, wanted)
            chance_b, b = by_pyagrum(net, bn, evidence, wanted)
            apart = max([abs(chance_a - chance_b)] + [abs(x - y) for v in wanted for x, y in zip(a[v], b[v])])
            assert apart < AGREE, (name, evidence, apart)
            assert math.isclose(chance_a, chance_b, rel_tol=1e-11), (name, evidence, chance_a, chance_b)
            worst = max(worst, apart)
            pairs = [(of[v][i], b[v][i]) for v in wanted for i in range(net.size(v) - 1)]
            cases.append({
                "says": evidence,
                "evidence": [e for v, value in evidence.items() for e in as_bits(net, of, v, value)],
                "chance": number(chance_b),
                "apart": float(f"{apart:.1e}"),
                "targets": [p[0] for p in pairs],
                "present": [number(p[1]) for p in pairs],
            })
        head = {
            "net": name,
            "source": f"pgmpy {version}, utils/example_models/{name}.bif.gz",
            "licence": "MIT (of the package; the file names none of its own)",
            "values": f"pgmpy {version} VariableElimination and pyAgrum {gum.__version__} LazyPropagation",
            "variables": len(net.order),
            "normalised": f"columns divided by their sums, which departed from 1 by at most {net.departure:.1e}",
        }
        lines = [json.dumps(head, ensure_ascii=False)[:-1] + ","]
        for key, rows in (("bits", net_bits), ("cases", cases)):
            body = ",\n".join(json.dumps(row, separators=(",", ":"), ensure_ascii=False) for row in rows)
            lines.append(f'"{key}":[\n{body}\n]' + ("," if key == "bits" else "}"))
        path = os.path.join(FOLDER, name + ".json")
        with open(path, "w", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        size = os.path.getsize(path)
        total += size
        print(f"{name}: {len(net.order)} variables, {len(net_bits)} bits, {len(cases)} cases, "
              f"apart {worst:.1e}, columns off by {net.departure:.1e}, {size} bytes", flush=True)
    print(f"{total} bytes in all")


if __name__ == "__main__":
    main()
