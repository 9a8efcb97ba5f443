#!/bin/sh
# build.sh SOURCE OUT MADE: compiles the library for a page, OUT/swashheat.wasm; MADE holds what the build made of the model.
# Needs emscripten (Debian), and the sources of CVODES and cminpack: in $SWH_SUNDIALS_SOURCE and $SWH_CMINPACK_SOURCE, else fetched
# from Debian's source packages into OUT.
set -eu
source=$1 out=$2 made=$3
export NODE_PATH="${NODE_PATH:-/usr/share/nodejs}"
mkdir -p "$out/objects" "$out/include/sundials"

fetch() { # fetch NAME: Debian's source of it into OUT/NAME, with apt's lists in OUT: neither root nor the machine's own lists are needed
    mkdir -p "$out/apt/lists/partial" "$out/apt/parts"
    for file in /etc/apt/sources.list.d/*.sources; do # the machine's own places, for sources instead of packages
        [ -f "$file" ] && sed 's/^Types:.*/Types: deb-src/' "$file" >"$out/apt/parts/$(basename "$file")"
    done
    [ -f /etc/apt/sources.list ] && sed -n 's/^deb /deb-src /p' /etc/apt/sources.list >"$out/apt/parts/machine.list"
    options="-o Dir::State::lists=$out/apt/lists -o Dir::Etc::sourcelist=/dev/null -o Dir::Etc::sourceparts=$out/apt/parts"
    # shellcheck disable=SC2086
    apt-get -q $options update >/dev/null && (cd "$out" && apt-get -q $options source --download-only --tar-only "$1" >/dev/null)
    mkdir -p "$out/$1" && tar -xf "$out/$1"_*.orig.tar.* -C "$out/$1" --strip-components=1
}

cvodes="${SWH_SUNDIALS_SOURCE:-}" minpack="${SWH_CMINPACK_SOURCE:-}"
if [ -z "$cvodes" ]; then
    cvodes="$out/sundials"
    [ -f "$cvodes/src/cvodes/cvodes.c" ] || fetch sundials
fi
if [ -z "$minpack" ]; then
    minpack="$out/cminpack"
    [ -f "$minpack/lmder.c" ] || fetch cminpack
fi
# the configuration of the library that Debian built, without MPI
include=$(dirname "$(find /usr/include -name sundials_config.h | head -n 1)")
cp "$include/sundials_config.h" "$include/sundials_export.h" "$out/include/sundials/"
sed -i 's/#define SUNDIALS_MPI_ENABLED 1/#define SUNDIALS_MPI_ENABLED 0/' "$out/include/sundials/sundials_config.h"

flags="-O3 -msimd128 -DNDEBUG -D_POSIX_C_SOURCE=200809L -fno-math-errno -ffp-contract=off -std=gnu11 -I$source -I$made -I$out/include \
-Wno-constant-conversion -I$cvodes/include -I$cvodes/src/sundials -I$cvodes/src -I$minpack"
ours=$(ls "$source"/model/*.c "$source"/model/base/*.c "$source"/model/tables/*.c "$source"/model/parts/*.c \
    "$source"/model/refrigerant/*.c "$source"/solver/ode/*.c "$source"/solver/web/*.c | grep -v -e /blob.c -e /tables_program.c -e /make_sparsity.c)
ours="$ours $(ls "$source"/solver/simulate/*.c "$source"/solver/steady/*.c "$source"/solver/infer/*.c)"
theirs=$(ls "$cvodes"/src/cvodes/cvodes*.c "$cvodes"/src/cvodes/cvodea*.c "$cvodes"/src/nvector/serial/nvector_serial.c \
    "$cvodes"/src/sundials/sundials_context.c "$cvodes"/src/sundials/sundials_errors.c "$cvodes"/src/sundials/sundials_linearsolver.c \
    "$cvodes"/src/sundials/sundials_logger.c "$cvodes"/src/sundials/sundials_math.c "$cvodes"/src/sundials/sundials_matrix.c \
    "$cvodes"/src/sundials/sundials_nonlinearsolver.c "$cvodes"/src/sundials/sundials_nvector.c \
    "$cvodes"/src/sundials/sundials_nvector_senswrapper.c "$cvodes"/src/sundials/sundials_hashmap.c \
    "$cvodes"/src/sundials/sundials_version.c "$cvodes"/src/sunnonlinsol/newton/sunnonlinsol_newton.c \
    "$cvodes"/src/sunmatrix/dense/sunmatrix_dense.c "$cvodes"/src/sunmatrix/band/sunmatrix_band.c 2>/dev/null | grep -v -e cvodes_band -e cvodes_diag -e cvodes_bbd)
for file in lmder lmpar qrfac qrsolv enorm dpmpar; do theirs="$theirs $minpack/$file.c"; done
objects=""
for file in $ours $theirs; do
    object="$out/objects/$(echo "$file" | tr / _).o"
    objects="$objects $object"
    if [ ! -f "$object" ] || [ -n "$(find "$file" "$source/model" "$source/solver" \( -name '*.h' -o -name '*.def' -o -path "$file" \) -newer "$object" | head -n 1)" ]; then
        echo "$file $object"
    fi
done >"$out/todo"
# shellcheck disable=SC2016
xargs -r -P 2 -L 1 sh -c 'emcc '"$flags"' -c "$0" -o "$1"' <"$out/todo"
for file in $ours $theirs; do objects="$objects $out/objects/$(echo "$file" | tr / _).o"; done
# shellcheck disable=SC2086
emcc -O3 -msimd128 -s STANDALONE_WASM=1 --no-entry -s ALLOW_MEMORY_GROWTH=1 -s INITIAL_MEMORY=33554432 -s ERROR_ON_UNDEFINED_SYMBOLS=0 -Wno-js-compiler \
    $(echo $objects | tr ' ' '\n' | sort -u) -o "$out/swashheat.wasm"
# what the page itself gives, and what C libraries of this kind lack; anything else is a source that is missing above
node -e '
const needs = WebAssembly.Module.imports(new WebAssembly.Module(require("fs").readFileSync(process.argv[1])));
const given = new Set(["swh_page_rows", "sched_getaffinity", "__sched_cpucount"]);
const missing = needs.filter(n => n.module === "env" && n.kind === "function" && !given.has(n.name) && !/^emscripten_|^__syscall|^_/.test(n.name));
if (missing.length) { console.error("not compiled in: " + missing.map(n => n.name).join(", ")); process.exit(1); }
' "$out/swashheat.wasm" || { rm -f "$out/swashheat.wasm"; exit 1; }
