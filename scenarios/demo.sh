#!/bin/sh
# Installs what is missing, builds, replays a logged drive through the compressor's heat balance and leaves pictures.
set -eu
swh_root="$(cd "$(dirname "$0")/.." && pwd)"
. "$swh_root/scenarios/packages.sh"
swh_install $swh_packages
swh_build "$swh_root/.build" -DSWH_TESTS=OFF
cd "$swh_root"
.build/cli/swashheat replay scenarios/logs/bay-healthy.csv --vehicle scenarios/vehicle-logs.ini -o results/replay
.build/cli/swashheat run scenarios/healthy.ini -o results/healthy
.build/cli/swashheat run scenarios/condenser_blocked.ini -o results/condenser_blocked
echo
echo "Pictures and tables:"
ls results/replay results/healthy results/condenser_blocked
