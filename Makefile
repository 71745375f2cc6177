# Two commands: `make demo` and `make test`. Everything runs in .venv; nothing else is needed than Python 3.11+ and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: setup setup-test warm demo test test-all lint bench bench-nest bench-large clean

setup: $(VENV)/.run
setup-test: $(VENV)/.test

PIP := $(BIN)/python -m pip --disable-pip-version-check

# requirements/fast.txt adds compiled inner loops; where there are no wheels of them, the same code runs in plain Python
$(VENV)/.run: requirements/run.txt requirements/fast.txt pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(PIP) install --quiet --require-hashes -r requirements/fast.txt || $(PIP) install --quiet --require-hashes -r requirements/run.txt
	$(PIP) install --quiet --require-hashes -r requirements/build.txt
	$(PIP) install --quiet --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/.test: requirements/test.txt $(VENV)/.run
	$(PIP) install --quiet --require-hashes -r requirements/test.txt
	touch $@

# compiles the inner loops ahead of use; at once over where that is done. Nothing but tests and benchmarks waits for it
warm: setup
	$(BIN)/python -m service.warm_up

demo: setup
	$(BIN)/sawbill demo

# the fast suite: all but what tests/slow.py names, with the reason of each
test: setup-test warm
	$(BIN)/python -m pytest -q -n 2 --dist loadfile -m "not slow"

# everything, with browsers and the property tests over whole plans
test-all: setup-test warm
	$(BIN)/python -m pytest -q -n 2 --dist loadfile

lint: setup-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy .

bench: setup-test warm
	$(BIN)/python -m tests.bench

bench-nest: setup-test warm
	$(BIN)/python -m tests.bench nesting

bench-large: setup-test warm
	$(BIN)/python -m tests.bench large

clean:
	rm -rf $(VENV) build *.egg-info .mypy_cache .ruff_cache
