#!/bin/sh
# Installs what is missing, builds with warnings as errors, runs every test.
set -eu
swh_root="$(cd "$(dirname "$0")/.." && pwd)"
. "$swh_root/scenarios/packages.sh"
swh_install $swh_packages python3 python3-venv python3-numpy python3-scipy python3-html5lib tidy parallel
build="${SWH_BUILD:-$swh_root/.build-tests}"
swh_build "$build" -DSWH_TESTS=ON -DSWH_WERROR=ON
cd "$build"
ctest --output-on-failure -j 2
