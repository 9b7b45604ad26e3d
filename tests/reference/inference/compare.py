"""Posteriors by splitpin and by two general-purpose libraries on the same nets, in one run, with ratios of time.

    pip install pgmpy pyagrum numpy
    python tests/reference/inference/compare.py [--limit SECONDS] [--only WORD] [--nets FOLDER]

The benchmark program writes every net (UAI text, gates of many parents as chains of small tables), its cases, our
posteriors and our median time of one call from evidence to posteriors of all roots, measured inside one process.
`--nets` takes a folder written earlier.

Each library gets the net through its interface in double precision, not through its readers: pyAgrum's read in single
precision and take parents in the other order. Building the net is not counted for either side. Cases without evidence
are left out. For each case a library gets the evidence and its ancestors alone, and is asked only for the roots among
them: all other roots keep their priors, which is checked of our figures. That is kinder to the libraries than to us,
who get the whole net and give all roots, but lets nets of thousands of variables be built.

What is counted: an engine made, evidence set, posteriors read; and the same with evidence set anew on an engine that is
kept; medians of a few calls, the quicker of the two counts. pyAgrum is tried with three exact engines and pgmpy with
its own, the quickest counts. A case that takes longer than the limit, or more than 4 GB, in a process of its own counts
as not solved. Results must agree to 1e-9; the table gives ours, theirs and the ratio.
"""

import argparse
import json
import logging
import multiprocessing
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import warnings

import numpy as np

AGREE = 1e-9
MEMORY = 4 << 30
# Repeated until so many seconds have gone, so often at most.
SECONDS, CALLS = 1.0, 7
WANTED = 20.0
HERE = os.path.dirname(os.path.abspath(__file__))
METHODS = ["LazyPropagation", "ShaferShenoyInference", "VariableElimination", "pgmpy"]


def read_uai(path):
    """Parents and chances of being present (last parent fastest) of every variable."""
    with open(path, encoding="utf-8") as file:
        words = iter(file.read().split())
    assert next(words) == "BAYES"
    n = int(next(words))
    assert all(int(next(words)) == 2 for _ in range(n))
    scopes = []
    for _ in range(int(next(words))):
        scopes.append([int(next(words)) for _ in range(int(next(words)))])
    nodes = [None] * n
    for scope in scopes:
        figures = [float(next(words)) for _ in range(int(next(words)))]
        nodes[scope[-1]] = (scope[:-1], figures[1::2])
    return nodes


def together(evidence):
    """One pair of likelihoods a variable."""
    out = {}
    for v, absent, present in evidence:
        a, b = out.get(v, (1.0, 1.0))
        out[v] = (a * absent, b * present)
    return {v: (a / max(a, b), b / max(a, b)) for v, (a, b) in out.items()}


def above(nodes, evidence, roots):
    """Evidence and its ancestors, numbered anew: nodes, evidence, roots among them, and where in `roots` those stand."""
    inside, todo = set(), list(evidence)
    while todo:
        v = todo.pop()
        if v not in inside:
            inside.add(v)
            todo.extend(nodes[v][0])
    at = {v: i for i, v in enumerate(sorted(inside))}
    small = [([at[p] for p in nodes[v][0]], nodes[v][1]) for v in sorted(inside)]
    asked = [i for i, r in enumerate(roots) if r in at]
    return small, {at[v]: pair for v, pair in evidence.items()}, [at[roots[i]] for i in asked], asked


def pyagrum_net(nodes):
    import pyagrum as gum

    bn = gum.BayesNet("net")
    for v in range(len(nodes)):
        bn.add(gum.LabelizedVariable(f"v{v}", "", 2))
    bn.beginTopologyTransformation()
    for v, (parents, _) in enumerate(nodes):
        for p in parents:
            bn.addArc(p, v)
    bn.endTopologyTransformation()
    for v, (parents, present) in enumerate(nodes):
        cube = np.array([[1.0 - p, p] for p in present]).reshape([2] * (len(parents) + 1))
        at = {f"v{u}": i for i, u in enumerate([*parents, v])}
        cpt = bn.cpt(v)
        cpt.fillWith(cube.transpose([at[u] for u in cpt.names][::-1]).reshape(-1).tolist())
    return bn


def pyagrum_engine(bn, method, roots):
    import pyagrum as gum

    engine = getattr(gum, method)(bn)
    engine.setTargets({f"v{r}" for r in roots})
    return engine


def by_pyagrum(engine, evidence, roots):
    engine.eraseAllEvidence()
    engine.setEvidence({f"v{v}": [a, b] for v, (a, b) in evidence.items()})
    engine.makeInference()
    return [float(engine.posterior(r)[1]) for r in roots]


def pgmpy_net(nodes, evidence):
    """The net and certain evidence; what is not certain becomes a child that is seen."""
    import networkx
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from([f"v{v}" for v in range(len(nodes))])
    edges = [(f"v{p}", f"v{v}") for v, (parents, _) in enumerate(nodes) for p in parents]
    certain, soft = {}, []
    for v, (a, b) in evidence.items():
        if a == 0.0 or b == 0.0:
            certain[f"v{v}"] = int(a == 0.0)
        else:
            soft.append(TabularCPD(f"s{v}", 2, [[1 - a, 1 - b], [a, b]], [f"v{v}"], [2]))
            certain[f"s{v}"] = 1
            edges.append((f"v{v}", f"s{v}"))
    # Past the check for circles that every single edge would pay for.
    networkx.DiGraph.add_edges_from(model, edges, weight=None)
    tables = []
    for v, (parents, present) in enumerate(nodes):
        table = np.array([[1.0 - p for p in present], present])
        tables.append(TabularCPD(f"v{v}", 2, table, [f"v{p}" for p in parents], [2] * len(parents)))
    model.cpds = tables + soft
    return model, certain


def pgmpy_engine(model):
    from pgmpy.inference import VariableElimination

    return VariableElimination(model)


def by_pgmpy(engine, evidence, roots):
    out = []
    for r in roots:
        name = f"v{r}"
        if name in evidence:
            out.append(float(evidence[name]))
            continue
        out.append(float(engine.query([name], evidence=evidence, show_progress=False).values[1]))
    return out


def timed(call, pipe):
    """Median seconds of a few calls, and what they found; the first is sent at once."""
    times, start = [], time.perf_counter()
    while not times or (len(times) < CALLS and time.perf_counter() - start < SECONDS):
        one = time.perf_counter()
        found = call()
        times.append(time.perf_counter() - one)
        if len(times) == 1:
            pipe.send(("first", times[0], found))
    return statistics.median(times), found


def child(pipe, method, nodes, evidence, roots):
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    warnings.filterwarnings("ignore")
    logging.disable(logging.WARNING)
    try:
        if method == "pgmpy":
            model, certain = pgmpy_net(nodes, evidence)
            make, ask = lambda: pgmpy_engine(model), lambda engine: by_pgmpy(engine, certain, roots)
        else:
            bn = pyagrum_net(nodes)
            make, ask = lambda: pyagrum_engine(bn, method, roots), lambda engine: by_pyagrum(engine, evidence, roots)
        pipe.send("built")
        fresh, found = timed(lambda: ask(make()), pipe)
        engine = make()
        ask(engine)
        kept, again = timed(lambda: ask(engine), pipe)
        pipe.send(("all", fresh, found) if fresh <= kept else ("all", kept, again))
    except MemoryError:
        pipe.send(("failed", "memory", None))
    except Exception as problem:  # What a library cannot do counts as not solved, with its reason.
        pipe.send(("failed", f"{type(problem).__name__} {problem}"[:60], None))


def solve(method, nodes, evidence, roots, limit):
    """Seconds and posteriors, or None and why not."""
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.Process(target=child, args=(theirs, method, nodes, evidence, roots))
    process.start()
    theirs.close()
    best = (None, "no net within five limits")
    try:
        if ours.poll(5 * limit):
            message = ours.recv()
            best = (None, f"over {limit:g} s")
            while message != "built" or ours.poll(limit):
                if message == "built":
                    message = ours.recv()
                if message[0] == "failed":
                    best = best if best[0] else (None, message[1])
                    break
                if message[0] == "all" or not best[0] or message[1] < best[0]:
                    best = (message[1], message[2])
                if message[0] == "all":
                    break
                message = "built"
    except EOFError:
        best = best if best[0] else (None, "died")
    process.kill()
    process.join()
    return best


def main():
    options = argparse.ArgumentParser()
    options.add_argument("--limit", type=float, default=60.0)
    options.add_argument("--only", default="")
    options.add_argument("--nets")
    options = options.parse_args()
    folder = options.nets or tempfile.mkdtemp()
    if not options.nets:
        run = ["cargo", "bench", "--bench", "inference"]
        subprocess.run(run, check=True, cwd=HERE, env={**os.environ, "COMPARE_INTO": folder}, stdout=sys.stderr)
    ratios, wrong = [], []
    print("net, case: ours ms, theirs ms, ratio, apart, engine")
    for file in sorted(f for f in os.listdir(folder) if f.endswith(".json") and options.only in f):
        with open(os.path.join(folder, file), encoding="utf-8") as text:
            net = json.load(text)
        nodes = read_uai(os.path.join(folder, file[:-5] + ".uai"))
        # An engine that failed on a net three times in a row is spared the rest of it.
        failed = dict.fromkeys(METHODS, 0)
        for case in net["cases"]:
            label = f"{net['net']}, {case['case']}"
            evidence = together(case["evidence"])
            if not evidence:
                continue
            small, given, asked, which = above(nodes, evidence, net["roots"])
            wanted = [case["present"][i] for i in which]
            outside = set(range(len(net["roots"]))) - set(which)
            moved = max((abs(case["present"][i] - nodes[net["roots"][i]][1][0]) for i in outside), default=0.0)
            solved, notes = [], []
            for method in METHODS:
                if failed[method] >= 3:
                    notes.append(f"{method} not tried again")
                    continue
                seconds, found = solve(method, small, given, asked, options.limit)
                if seconds is None:
                    failed[method] += 1
                    notes.append(f"{method} {found}")
                    continue
                failed[method] = 0
                apart = max((abs(a - b) for a, b in zip(found, wanted)), default=0.0)
                solved.append((seconds, method, apart))
            ours = 1e3 * case["seconds"]
            exact = "" if case["exact"] else " (ours are bounds)"
            if not solved:
                print(f"{label}: {ours:.3f}{exact}, none solved: {'; '.join(notes)}", flush=True)
                continue
            seconds, method, _ = min(solved)
            apart = max(moved, *(s[2] for s in solved))
            ratio = seconds / case["seconds"]
            ratios.append((ratio, label))
            if apart > AGREE or not case["exact"]:
                wrong.append((label, [(s[1], s[2]) for s in solved]))
            print(f"{label}: {ours:.3f}{exact}, {1e3 * seconds:.3f}, {ratio:.1f}, {apart:.1e}, {method}"
                  + (f" ({'; '.join(notes)})" if notes else ""), flush=True)
    if ratios:
        ratios.sort()
        below = [r for r in ratios if r[0] < WANTED]
        print(f"{len(ratios)} cases solved by a library; {len(below)} below {WANTED:g} times; "
              f"worst {ratios[0][0]:.1f} ({ratios[0][1]}), median {statistics.median(r[0] for r in ratios):.1f}")
    for label, apart in wrong:
        print(f"apart by more than {AGREE}: {label} {apart}")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
