# A machine with python3 (3.11 or newer) and make is enough: everything else comes from requirements.lock into .venv.
#   make demo      fly the demo study and write its report
#   make test      every check and every test
# `make help` lists the rest.

PYTHON ?= python3
STUDY ?= studies/tern.yaml
OUT ?= out/demo
# Handed on to pytest: make test ARGS="tests/risk -k wilson"
ARGS ?=

BIN := .venv/bin
READY := .venv/.ready
PIP := $(BIN)/python -m pip -qq --disable-pip-version-check --no-input

.DEFAULT_GOAL := help
.PHONY: help demo test coverage bench lint minimal lock clean clean-all

help: ## what there is to make
	@sed -n 's/^\([a-z-]*\):[^#]*## \(.*\)/make \1|\2/p' $(MAKEFILE_LIST) | while IFS='|' read -r name what; do printf '  %-16s %s\n' "$$name" "$$what"; done

# Once, and again whenever the lock or the project's own description changes. setuptools comes first because one test
# package is published as source only and must be built with the locked setuptools, not with whatever is newest.
$(READY): requirements.lock pyproject.toml
	@command -v $(PYTHON) >/dev/null || { echo "There is no $(PYTHON) here. Install Python 3.11 or newer, or name one: make PYTHON=/path/to/python3" >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Leadline needs Python 3.11 or newer, and $(PYTHON) is $$($(PYTHON) -V 2>&1). Name a newer one: make PYTHON=python3.11" >&2; exit 1; }
	@echo "Setting up .venv from requirements.lock: once, two minutes or so" >&2
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@$(BIN)/python .ci/locked.py setuptools > .venv/setuptools.txt
	@$(PIP) install --require-hashes -r .venv/setuptools.txt
	@$(PIP) install --require-hashes --no-build-isolation -r requirements.lock
	@$(PIP) install --no-build-isolation --no-deps --editable .
	@touch $@

demo: $(READY) ## fly the demo study: the chance that it closes, its margins, what drives them, and a report file
	@rm -rf $(OUT)
	@$(BIN)/leadline run $(STUDY) --out $(OUT)
	@$(BIN)/leadline drivers $(STUDY) --cases 20000 --out $(OUT) --quiet > $(OUT)/drivers.txt
	@echo "The report: $(CURDIR)/$(OUT)/report.html"

test: $(READY) ## every check and every test
	@$(BIN)/python -m pytest --numprocesses auto -p no:benchmark $(ARGS)

coverage: $(READY) ## the tests again, with the lines and branches they missed
	@$(BIN)/python -m pytest --numprocesses auto -p no:benchmark $(ARGS) --cov

bench: $(READY) ## speed and memory against the figures promised
	@$(BIN)/python -m pytest tests/bench -p no:xdist $(ARGS)

lint: $(READY) ## format, lint, types and layers only
	@$(BIN)/ruff format --check .
	@$(BIN)/ruff check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports

minimal: $(READY) ## the numeric layers with NumPy, SciPy and pydantic alone
	@$(BIN)/python -m pytest tests/test_minimal_install.py $(ARGS)

# `make lock UPGRADE=--upgrade` takes the newest versions; without it only what pyproject.toml asks for changes.
lock: $(READY) ## make requirements.lock anew from pyproject.toml
	@$(BIN)/uv --no-config --quiet pip compile pyproject.toml --output-file requirements.lock --universal --python-version 3.11 \
	  --fork-strategy fewest --generate-hashes --all-extras --group test --group lock --custom-compile-command "make lock" $(UPGRADE)

clean: ## remove what tools and runs left behind
	rm -rf out build dist htmlcov .coverage .coverage.* .benchmarks .hypothesis .import_linter_cache .mypy_cache .pytest_cache .ruff_cache
	find src service tests .ci -name __pycache__ -type d -prune -exec rm -rf {} +

clean-all: clean ## the same, and the environments too
	rm -rf .venv .venv-minimal
