# Two commands: `make demo` and `make test`. Everything runs in .venv; nothing else is needed than Python 3.11+ and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: setup setup-test demo test lint bench bench-nest clean

setup: $(VENV)/.run
setup-test: $(VENV)/.test

$(VENV)/.run: requirements/run.txt pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/run.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e . || \
	  $(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $@

$(VENV)/.test: requirements/test.txt $(VENV)/.run
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/test.txt
	touch $@

demo: setup
	$(BIN)/sawbill demo

test: setup-test
	$(BIN)/python -m pytest -q -n 2 --dist loadfile

lint: setup-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy .

bench: setup-test
	$(BIN)/python -m tests.bench

bench-nest: setup-test
	$(BIN)/python -m tests.bench nest

clean:
	rm -rf $(VENV) build *.egg-info .mypy_cache .ruff_cache
