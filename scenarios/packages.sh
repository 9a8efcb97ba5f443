# Installs what a fresh Debian 12 lacks to build swashheat. Sourced by demo.sh and tests/all.sh.
swh_packages="gcc g++ make cmake pkg-config libsundials-dev libsuitesparse-dev libcsv-dev libinih-dev libudunits2-dev \
libjansson-dev nettle-dev libminizip-dev libcminpack-dev libcmocka-dev gnuplot-nox"

# swh_install PACKAGE...: installs those that are missing, as root or through sudo
swh_install() {
    missing=""
    for package in "$@"; do
        dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q "install ok installed" || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    echo "installing:$missing"
    as_root=""
    [ "$(id -u)" -eq 0 ] || as_root="sudo"
    $as_root apt-get update -qq
    DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
}

# swh_build FOLDER [cmake options]: an optimised build
swh_build() {
    folder="$1"
    shift
    cmake -S "$swh_root" -B "$folder" -DCMAKE_BUILD_TYPE=Release "$@" >"$folder.log" 2>&1 || {
        cat "$folder.log" >&2
        return 1
    }
    cmake --build "$folder" -j 2 >>"$folder.log" 2>&1 || {
        tail -n 60 "$folder.log" >&2
        return 1
    }
}
