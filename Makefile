# Everything a fresh machine needs: `make review` runs the main job, `make test` runs every check.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= out

.PHONY: setup review test quick bench recovery screenshots clean

setup: $(VENV)/.ready

$(VENV)/.ready: constraints.txt pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

review: setup
	$(BIN)/rackledger review sample_logs --db $(OUT)/season.duckdb --out $(OUT)/reports

test: setup
	sh tests/need_chromium.sh
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/pytest -n 2

quick: setup
	$(BIN)/pytest -n 2 -m "not slow and not browser"

clean:
	rm -rf $(VENV) $(OUT) build *.egg-info
