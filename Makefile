# Two commands: `make demo` and `make test`. Everything runs in .venv; nothing else is needed than Python 3.11+ and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: setup setup-test demo test lint bench bench-nest clean

setup: $(VENV)/.run
setup-test: $(VENV)/.test

PIP := $(BIN)/python -m pip --disable-pip-version-check

# requirements/fast.txt adds compiled inner loops; where there are no wheels of them, the same code runs in plain Python
$(VENV)/.run: requirements/run.txt requirements/fast.txt pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(PIP) install --quiet --require-hashes -r requirements/fast.txt || $(PIP) install --quiet --require-hashes -r requirements/run.txt
	$(PIP) install --quiet --require-hashes -r requirements/build.txt
	$(PIP) install --quiet --no-deps --no-build-isolation -e .
	-$(BIN)/python -m service.warm >/dev/null 2>&1
	touch $@

$(VENV)/.test: requirements/test.txt $(VENV)/.run
	$(PIP) install --quiet --require-hashes -r requirements/test.txt
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
	$(BIN)/python -m tests.bench nesting

clean:
	rm -rf $(VENV) build *.egg-info .mypy_cache .ruff_cache
