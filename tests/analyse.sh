#!/bin/sh
# Static analysis: gcc's -fanalyzer, cppcheck, clang-tidy's checks for bugs. Prints what each finds in model, solver, plots and cli; ends with 1 if
# anything is found. analyse.sh BUILD_FOLDER [gcc|cppcheck|clang-tidy]...
set -u
root="$(cd "$(dirname "$0")/.." && pwd)"
build="$1"
shift
tools="${*:-gcc cppcheck clang-tidy}"
found=0
say() { # the findings of a tool, without doubles
  sort -u "$1" > "$1.sorted"
  n=$(grep -c . "$1.sorted")
  echo "$2: $n findings"
  cat "$1.sorted"
  [ "$n" -eq 0 ] || found=1
}
cmake -S "$root" -B "$build" -DSWH_TESTS=OFF -DCMAKE_EXPORT_COMPILE_COMMANDS=ON -DCMAKE_C_COMPILER=gcc \
  -DCMAKE_C_FLAGS="-fanalyzer" -DCMAKE_BUILD_TYPE=Analysis > /dev/null || exit 1
for tool in $tools; do
  case $tool in
  gcc)
    cmake --build "$build" --clean-first -j 2 > "$build/gcc.txt" 2>&1
    grep -E "warning:.*-Wanalyzer" "$build/gcc.txt" > "$build/gcc.found"
    say "$build/gcc.found" "gcc -fanalyzer"
    ;;
  cppcheck)
    command -v cppcheck > /dev/null || { echo "cppcheck: not installed"; continue; }
    # the macros of the .def tables expand to nothing that cppcheck could follow
    cppcheck --quiet --std=c11 --enable=warning,performance,portability --inline-suppr --suppress=missingIncludeSystem --suppress=normalCheckLevelMaxBranches \
      -I "$root" -I "$build/solver/include" -I "$build/solver/private" -I "$build/cli/embedded" --template='{file}:{line}: {severity}: {message} [{id}]' \
      "$root/model" "$root/solver" "$root/plots" "$root/cli" 2> "$build/cppcheck.found"
    say "$build/cppcheck.found" cppcheck
    ;;
  clang-tidy)
    command -v clang-tidy > /dev/null || { echo "clang-tidy: not installed"; continue; }
    (cd "$root" && find model solver plots cli -name '*.c') | while read -r file; do
      clang-tidy -p "$build" --quiet --checks='-*,bugprone-*,-bugprone-easily-swappable-parameters,-bugprone-narrowing-conversions,-bugprone-implicit-widening-of-multiplication-result,-bugprone-reserved-identifier,-bugprone-branch-clone,-bugprone-macro-parentheses,cert-err34-c,concurrency-mt-unsafe,-concurrency-mt-unsafe,clang-analyzer-*,-clang-analyzer-security.insecureAPI.DeprecatedOrUnsafeBufferHandling,-clang-analyzer-security.insecureAPI.strcpy' \
        --extra-arg=-Wno-unknown-warning-option "$root/$file" 2> /dev/null | grep -E "warning:|error:"
    done > "$build/clang-tidy.found"
    say "$build/clang-tidy.found" clang-tidy
    ;;
  esac
done
exit $found
