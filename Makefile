# Everything a fresh machine with Python 3.11 and pip needs; nothing is written outside this folder.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# The lowest Python, and the lowest versions of all that the program needs.
LOWEST := .venv-lowest
LOWEST_PYTHON ?= $(shell command -v python3.11 || echo $(PYTHON))

# Compiled tests are kept, in the checkout too, whatever the environment says: it saves half of their start.
export PYTHONDONTWRITEBYTECODE =

.PHONY: demo test test-slow lowest lint setup readme clean

setup: $(VENV)/ready

$(VENV)/ready: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --editable ".[dev]"
	touch $@

demo: setup
	$(BIN)/predictor plan --job sample_trials --area-ac 14 --on 2026-11-25
	$(BIN)/predictor recommend sample_trials/trials.csv

test: setup
	$(BIN)/python -m pytest -m "not slow"

test-slow: setup
	$(BIN)/python -m pytest -m slow

lowest: $(LOWEST)/ready
	$(LOWEST)/bin/python -m pytest -m "not slow" -W ignore

$(LOWEST)/ready: pyproject.toml tests/house/lowest.py
	$(LOWEST_PYTHON) -m venv $(LOWEST)
	$(LOWEST_PYTHON) tests/house/lowest.py > $(LOWEST)/lowest.txt
	$(LOWEST)/bin/pip install --quiet --editable ".[test]" --constraint $(LOWEST)/lowest.txt
	touch $@

lint: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

clean:
	rm -rf $(VENV) $(LOWEST) build dist *.egg-info .pytest_cache .hypothesis .ruff_cache .mypy_cache

# Outputs and pictures in README and tutorial, and the sample report, made again.
readme: setup
	rm -f sample_trials/sample.png sample_trials/lots.png  # pictures of older versions have no mark
	$(BIN)/predictor recommend sample_trials/trials.csv --plot sample_trials/sample.png > /dev/null
	$(BIN)/predictor compare sample_trials/trials.csv --box small --plot sample_trials/lots.png > /dev/null
	$(BIN)/predictor report --job sample_trials --for "nobody: this job is invented" --out reports/sample.html
	$(BIN)/python -m tests.serving.screenshot
	$(BIN)/python -m tests.house.readme_blocks
