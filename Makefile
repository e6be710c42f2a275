# Everything a fresh machine with Python 3.11 and pip needs; nothing is written outside this folder.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test test-slow lint types setup readme clean

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

lint: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: setup
	$(BIN)/mypy

clean:
	rm -rf $(VENV) build dist *.egg-info .pytest_cache .hypothesis .ruff_cache .mypy_cache

# Outputs and pictures in README and tutorial, and the sample report, made again.
readme: setup
	$(BIN)/predictor recommend sample_trials/trials.csv --plot sample_trials/sample.png > /dev/null
	$(BIN)/predictor compare sample_trials/trials.csv --box small --plot sample_trials/lots.png > /dev/null
	$(BIN)/predictor report --job sample_trials --for "nobody: this job is invented" --out reports/sample.html
	$(BIN)/python -m tests.house.readme_blocks
