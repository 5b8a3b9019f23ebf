# Everything a fresh machine needs: `make review` runs the main job, `make test` runs every check.
# Packages are compiled as they are first imported (--no-compile): most of their modules never are.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= out
# Two processes that take a file each in the order of tests/conftest.py.
TOGETHER := -n 2 --dist loadscope --no-loadscope-reorder

.PHONY: setup review test types suite quick spark bench fuzz faults mutate recovery screenshots clean

setup: $(VENV)/.ready

$(VENV)/.ready: constraints.txt pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes -r constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

# Exit code 3 means done with rows in quarantine, as the sample's honest mistakes make it.
review: setup
	mkdir -p $(OUT)
	$(BIN)/rackledger review sample_logs --db $(OUT)/season.duckdb --out $(OUT)/reports || test $$? -eq 3

# Types are checked beside the suite: alone they would leave a core idle.
test: setup
	sh tests/need_chromium.sh
	$(BIN)/ruff check .
	$(BIN)/lint-imports --no-cache
	$(BIN)/python -m tests.audit constraints.txt
	$(MAKE) --no-print-directory -j 2 types suite

types: setup
	$(BIN)/mypy

suite: setup
	$(BIN)/pytest $(TOGETHER)

quick: setup
	$(BIN)/pytest $(TOGETHER) -m "not slow and not browser"

clean:
	rm -rf $(VENV) $(OUT) build *.egg-info

# The optional proof that Spark makes the same counts; needs Java.
spark: setup
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r constraints-spark.txt
	$(BIN)/pytest tests/spark

bench: setup
	$(BIN)/python -m tests.benchmarks.run

# Thousands of new cases, about half an hour; `make test` runs the same few hundred at every run.
fuzz: setup
	RACKLEDGER_FUZZ=thousands $(BIN)/pytest tests/fuzz --hypothesis-show-statistics

faults: setup
	$(BIN)/python -m tests.faults.kill_runs --runs 60 --out tests/faults/kill_log.csv

# Deliberate faults, each of which a test must notice; about half an hour.
mutate: setup
	$(BIN)/python -m tests.mutations.run

recovery: setup
	$(BIN)/python -m tests.recovery.study --seasons 100 --workers 2 --out tests/recovery/recovery_table.csv

screenshots: review
	$(BIN)/python -m reports.screenshots $(OUT)/reports reports/screens
