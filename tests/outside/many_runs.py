"""Folders of runs made from one real run: other units, days, readings, faults, and words.

Only run.json and, where there is one, the job file: what the record reads. A figure's value is moved and
its uncertainty is left as it was, so that the document holds together.
"""

import copy
import datetime
import hashlib
import json
import os


def document_of(folder):
    with open(os.path.join(folder, "run.json"), encoding="utf-8") as file:
        return json.load(file)


def figures(document):
    return [figure for step in document["steps"] for figure in step["figures"]]


def moved(document, kind, move, channel=None):
    """The document with every figure of a kind moved; one of a channel where one is named."""
    for figure in figures(document):
        if figure["figure"] == kind and figure.get("value") is not None and channel in (None, figure.get("channel")):
            figure["value"] = move(figure["value"])
    return document


def with_verdicts(document, failed):
    """Every scored figure passes but those that `failed` takes; the run's verdict follows."""
    any_failed = False
    for figure in figures(document):
        if figure.get("verdict") in (None, "not_comparable"):
            continue
        fails = bool(failed(figure))
        figure["verdict"] = "fail" if fails else "pass"
        any_failed = any_failed or fails
    document["verdict"] = "fail" if any_failed else "pass"
    return document


def write_run(runs, document, name, serial, started, stage="repaired", job="", words=None, **others):
    """A folder `name` in `runs`; `words` are the text of a job file that it was made with. Its path."""
    whole = copy.deepcopy(document)
    whole.update(id=name, started=started, ended=started, stage=stage, job=job, **others)
    whole["unit"]["serial"] = serial
    folder = os.path.join(runs, name)
    os.makedirs(os.path.join(folder, "inputs"))
    whole["files"] = [file for file in whole["files"] if file["role"] != "job"]
    if words is not None:
        with open(os.path.join(folder, "inputs", "job-ticket.job.yaml"), "w", encoding="utf-8") as file:
            file.write(words)
        sha256 = hashlib.sha256(words.encode()).hexdigest()
        whole["files"].append({"role": "job", "path": "inputs/job-ticket.job.yaml", "sha256": sha256})
    with open(os.path.join(folder, "run.json"), "w", encoding="utf-8") as file:
        json.dump(whole, file, separators=(",", ":"))
    return folder


def stamp(day, minute=0):
    """A day of the years from 2020 on, counted from 0, at some minute of it."""
    at = datetime.datetime(2020, 1, 1, 8, 0) + datetime.timedelta(days=day, minutes=minute)
    return at.strftime("%Y-%m-%dT%H:%M:%S.000Z")
