"""Reads expositions with the parsers of prometheus_client, which are not ours: [{format, text}] in, [[family]] out, as JSON."""
import json
import sys

from prometheus_client.openmetrics.parser import text_string_to_metric_families as openmetrics
from prometheus_client.parser import text_string_to_metric_families as text

PARSERS = {"openmetrics": openmetrics, "text": text}


def read(one):
    return [
        {
            "name": family.name,
            "type": family.type,
            "unit": family.unit,
            "help": family.documentation,
            "samples": [{"name": s.name, "labels": s.labels, "value": s.value} for s in family.samples],
        }
        for family in PARSERS[one["format"]](one["text"])
    ]


json.dump([read(one) for one in json.load(sys.stdin)], sys.stdout)
