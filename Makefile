# make run     build, and show the main job on the demonstration feeder
# make test    everything that must hold before a commit
# make build   bin/feederwright, one static binary, with the page of the workbench where Node.js is there
# make lint    formatting, vet and static checks
# make bench   benchmarks, beside other solvers where they are installed
.PHONY: run test build lint bench

BIN := bin/feederwright

run: build
	@scripts/demo $(BIN)

build:
	@scripts/setup run
	@scripts/page build
	CGO_ENABLED=0 go build -trimpath -buildvcs=false -o $(BIN) ./cmd/feederwright

test:
	@scripts/setup test
	@$(MAKE) --no-print-directory lint
	go test ./...
	@$(MAKE) --no-print-directory build
	@scripts/page test

lint:
	@scripts/setup run
	@scripts/lint

bench:
	@scripts/setup bench
	@scripts/bench
