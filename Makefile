# One word each; `make demo` and `make test` do all their own setting-up.
# Needs Python 3.11 or newer, make and git. Where apt is to be had and we are root, what the
# browser and PostgreSQL tests want is installed too; elsewhere those tests skip with a reason.

SHELL := /bin/bash
PYTHON ?= python3
VENV ?= .venv
# CAD=1 also installs the STEP/IGES kernel (391 MB).
CAD ?= 0
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
ifeq ($(CAD),1)
STAMP := $(VENV)/.installed-cad
endif
WORKERS ?= 2
PYTEST_ARGS ?=

.DEFAULT_GOAL := help
.PHONY: help setup system lint format test docs picture pictures demo bench campaign lock vendor build clean distclean

help:  ## say what can be made
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

setup: $(STAMP)  ## virtual environment in .venv with all that is locked

$(STAMP): requirements.lock pyproject.toml tools/setup.sh
	PYTHON="$(PYTHON)" VENV="$(VENV)" CAD="$(CAD)" tools/setup.sh
	@touch $@

system:  ## Chromium and PostgreSQL through apt, where that can be done
	@tools/system.sh

lint: setup  ## ruff, mypy strict, import contracts
	@held=0; for what in "ruff check ." "ruff format --check ." "mypy" "lint-imports --no-logo"; do \
	  echo "-- $$what"; $(BIN)/$$what || held=1; done; exit $$held

format: setup  ## let ruff mend what it can
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

test: setup system  ## the whole suite, then the docs with their examples
	$(BIN)/python -m pytest -n $(WORKERS) --durations=20 --durations-min=5 $(PYTEST_ARGS)
	$(MAKE) --no-print-directory docs

docs: setup  ## build docs/_build/html, warnings as errors, and run the examples in it
	$(BIN)/python -m sphinx -W --keep-going -q -d docs/_build/doctrees -b html docs docs/_build/html
	$(BIN)/python -m sphinx -W --keep-going -q -d docs/_build/doctrees -b doctest docs docs/_build/doctest

picture: setup  ## docs/pictures/rooms.svg from the imports
	$(BIN)/python tools/architecture.py

pictures: demo system  ## docs/pictures/*.png from the demo
	$(BIN)/python tools/pictures.py demo-out

demo: setup  ## the whole job on Marram, in about a minute, into demo-out/
	$(BIN)/futtock demo --out demo-out

bench: setup  ## benchmarks/RESULTS.md
	$(BIN)/python -m benchmarks

campaign: setup system  ## long trials: kills, simulated yards, fuzzing; minutes to hours
	$(BIN)/python -m pytest -m campaign $(PYTEST_ARGS)

lock: setup  ## requirements.lock anew from pyproject.toml, keeping pins that still hold
	tools/lock.sh

vendor: setup  ## fetch and convert fonts and scripts again (needs npm and the network)
	$(BIN)/python tools/vendor.py

build: setup  ## wheel and source archive in dist/, with the list of all that is in them
	$(BIN)/python -m hatchling build
	$(BIN)/python tools/sbom.py

clean:  ## what was built
	rm -rf demo-out dist build docs/_build docs/_made .coverage .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis

distclean: clean  ## and the environment
	rm -rf $(VENV)
