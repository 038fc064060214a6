# Thin: everything is in tools/setup.py, which also works without make.
PYTHON ?= $(shell command -v python3 || command -v python)

.PHONY: help install demo test check
help:
	@echo "make demo      the demo county: its ledger and its letters"
	@echo "make test      all tests"
	@echo "make check     lint, format, types, house rules, fast tests"
	@echo "make install   only the environment that the others need (.venv)"

install demo test check:
	@$(PYTHON) tools/setup.py $@
