#!/bin/sh
# Breaks the physics, the integrator and the inference on purpose, one change at a time; prints the survivors.
set -eu
here="$(cd "$(dirname "$0")" && pwd)"
exec python3 "$here/mutate.py" "$here/../.." "$@"
