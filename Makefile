.PHONY: help build test race lint fuzz bench golden evaluate demo clean
FUZZTIME ?= 30s
# what the observer of an evaluation learns from: an hour of two cores
LESSONS ?= 100000
# of the cases whose table stands in README.md
SEED ?= 9700001
# where .ci/browser puts axe-core; the tests in a browser skip it where it is not there
export PORTSIDE_AXE ?= $(wildcard $(CURDIR)/.ci/node_modules/axe-core/axe.min.js)

help: ## list the targets
	@grep -E '^[a-z]+:.*##' Makefile | sed 's/:.*## /\t/' | expand -t 12
build: ## build bin/portside
	go build -o bin/portside ./cmd/portside
test: ## run all tests
	go test ./...
race: ## run all tests under the race detector
	go test -race ./...
lint: ## gofmt, vet and the linters as CI runs them
	bash .ci/lint
fuzz: ## fuzz every target for FUZZTIME
	bash .ci/fuzz $(FUZZTIME)
bench: ## run the benchmarks
	go test -run '^$$' -bench . -benchmem ./...
golden: ## rewrite the golden files
	bash .ci/golden
evaluate: build ## how right and how honest the verdict is; CASES=DIR: on confirmed jobs
	bin/portside evaluate $(or $(CASES),--cases 2000 --seed $(SEED) --lessons $(LESSONS))
ifndef CASES
	bin/portside evaluate --advice
	bin/portside evaluate --coverage
endif
demo: build ## run the main job on the built-in recordings
	bash .ci/demo bin/portside
clean: ## remove what was built
	rm -rf bin
