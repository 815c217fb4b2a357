#!/usr/bin/env bash
# ctest's way in: installs playwright-core by its lock file, once, and runs the tests. 77: skipped, with a sentence.
set -uo pipefail
cd "$(dirname "$0")"
if [ ! -f node_modules/.package-lock.json ] || [ package-lock.json -nt node_modules/.package-lock.json ]; then
  if ! said=$(npm ci --no-audit --no-fund 2>&1); then
    echo "The browser tests need playwright-core from the npm registry, which was not reached: $(tail -n 1 <<<"$said")"
    [ -n "${CI:-}" ] && exit 1
    exit 77
  fi
fi
exec node --test --test-reporter=spec "$@" review.test.mjs
