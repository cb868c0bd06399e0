"""The quality check of what is held: ``python -m tests.benchmarks.measured.quality read|clinical|all REGISTRY_FILE``.

read: the tables and columns that clinical rules read, and nothing done with them. clinical: these rules, reading
included. all: as ``gravelbook quality check``, with the rules of single fields and all that belongs to them.
"""

from __future__ import annotations

import sys

from registry.store.reading import open_reader
from registry.store.registry import open_registry
from registry.validation.quality_check import check_held
from registry.validation.rule_running import rule_columns, rule_engine, run_rules
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    what, file = sys.argv[1:]
    with open_registry(file) as registry:
        watch = Stopwatch()
        if what == "all":
            watch.say(rows=sum(result.checked for result in check_held(registry)))
            return
        with open_reader(registry, rule_columns()) as reader:
            if what == "read":
                read = [
                    reader.arrow(table, list(columns), analysed_only=False) for table, columns in rule_columns().items()
                ]
                watch.say(rows=sum(len(table) for table in read))
                return
            with rule_engine(lambda table, columns: reader.arrow(table, columns, analysed_only=False)) as engine:
                judged = list(run_rules(engine))
    assert not any(each.fault for each in judged)
    watch.say(rows=sum(each.checked for each in judged), broken=sum(len(each.broken) for each in judged))


if __name__ == "__main__":
    main()
