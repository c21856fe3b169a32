# Commands for people; `make help` lists them. Works from a path with spaces.

PORT ?= 8000
VENV_PYTHON := .venv/bin/python
DEMO_DIR := $(if $(EMPTY),var/empty,var/demo)
# Where the invented laboratory stands.
DEMO_ZONE := Europe/Vienna
# xdist workers; two suit a small machine.
WORKERS ?= 2
# How often `make faults` tries each fault.
TIMES ?= 100

.DEFAULT_GOAL := help
.PHONY: help demo test test-long test-browser lint format serve benchmark faults coverage mutants words screenshots

help: ## list the commands
	@grep -E '^[a-z-]+:.*## ' $(firstword $(MAKEFILE_LIST)) | awk -F ':.*## ' '{printf "  make %-13s %s\n", $$1, $$2}'

demo: ## set up and serve the demo lab on this machine (PORT=8000; EMPTY=1: a blank lab)
	@.ci/venv
	@LABQUEUE_VAR="$(DEMO_DIR)" LABQUEUE_ZONE="$(DEMO_ZONE)" $(VENV_PYTHON) manage.py demo --port "$(PORT)" $(if $(EMPTY),--empty)

test: ## install what the tests need and run them all
	@.ci/venv test
	@.ci/browser
	@$(VENV_PYTHON) -m pytest -n $(WORKERS) --dist loadgroup

test-long: ## run the tests that take their time and that `make test` leaves out
	@.ci/venv test
	@.ci/browser
	@$(VENV_PYTHON) -m pytest --long -m long

test-browser: ## run only the tests that drive a browser
	@.ci/venv test
	@.ci/browser
	@$(VENV_PYTHON) -m pytest tests/browser --long

lint: ## check style, types, import directions, migrations and production settings
	@.ci/venv test
	@.ci/lint

format: ## let ruff put the code in order
	@.ci/venv test
	@$(VENV_PYTHON) -m ruff check --fix .
	@$(VENV_PYTHON) -m ruff format .

serve: ## serve for production from environment variables (README: settings)
	@.ci/venv
	@LABQUEUE_PRODUCTION=yes $(VENV_PYTHON) manage.py serve

benchmark: ## measure speed and write the table to tests/benchmarks/README.md
	@.ci/venv test
	@$(VENV_PYTHON) -m tests.benchmarks

faults: ## kill the server 100 times each in the middle of scans, imports and plans (TIMES=100); takes an hour
	@.ci/venv test
	@LABQUEUE_FAULTS="$(TIMES)" $(VENV_PYTHON) -m pytest -q --long tests/faults

coverage: ## show which branches of the rules no test of theirs takes; fails below 100 %
	@.ci/venv test
	@$(VENV_PYTHON) -m pytest -q -n $(WORKERS) tests/rules tests/outside --cov=intake.rules --cov-branch \
		--cov-report=term-missing:skip-covered --cov-fail-under=100

mutants: ## change the rules bit by bit and show what no test notices (ONLY="holding moments"; SAMPLE=20)
	@.ci/venv test
	@$(VENV_PYTHON) -m tests.mutation $(if $(SAMPLE),--sample $(SAMPLE)) $(ONLY)

words: ## gather what is to be translated, keep what is, compile; needs GNU gettext
	@.ci/venv test
	@$(VENV_PYTHON) -m tests.words

screenshots: ## take the README's pictures, and pictures of every kind of page to look at (build/pictures)
	@.ci/venv test
	@.ci/browser
	@$(VENV_PYTHON) -m tests.browser.screenshots
