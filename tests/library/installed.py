"""The library and the program as they are installed: what a stranger who builds on them would do.

Usage: installed.py BUILD SOURCE CMAKE CLASS
"""
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

BUILD, SOURCE, CMAKE = (os.path.abspath(a) if os.sep in a else a for a in sys.argv[1:4])
HEALTHY = os.path.join(SOURCE, "scenarios", "healthy.ini")


def run(*command, cwd=None, **environment):
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, env={**os.environ, **environment}, timeout=500)
    if done.returncode:
        raise AssertionError(f"{' '.join(command)}: status {done.returncode}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}")
    return done.stdout


def expected(program, folder):
    """What the program itself says of the case that the C example runs."""
    run(program, "run", HEALTHY, "--set", "conditions.ambient_temperature=38 degC", "--set", "fault.condenser_blocked.severity=0.33",
        "-o", folder, "--plot", "none", "-q")
    with open(os.path.join(folder, "summary.json"), encoding="utf-8") as f:
        return json.load(f)


class Case(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.mkdtemp()
        self.addCleanup(shutil.rmtree, self.folder)

    def install(self):
        prefix = os.path.join(self.folder, "usr")
        run(CMAKE, "--install", BUILD, "--prefix", prefix)
        return prefix

    def example(self, program, summary, **environment):
        """The C example says what the program says."""
        said = run(program, HEALTHY, **environment)
        rows, pipe, head = re.search(r"run (\d+) rows, discharge pipe ([\d.]+) K .* at most (\d+) Pa", said).groups()
        self.assertEqual(int(rows), 1801)
        self.assertAlmostEqual(float(pipe), summary["final"]["discharge_temperature"], delta=1e-6)
        self.assertAlmostEqual(float(head), summary["peak"]["discharge_pressure"]["value"], delta=0.51)


class Tree(Case):
    """What cmake --install leaves behind."""

    def test_files(self):
        prefix = self.install()
        for name in ("bin/swashheat", "include/swashheat/swashheat.h", "include/swashheat/version.h", "share/man/man1/swashheat.1",
                     "share/bash-completion/completions/swashheat", "share/zsh/site-functions/_swashheat",
                     "share/fish/vendor_completions.d/swashheat.fish", "share/swashheat/scenarios/healthy.ini"):
            self.assertTrue(os.path.exists(os.path.join(prefix, name)), name)

    def test_moved_program_runs(self):
        program = os.path.join(self.install(), "bin", "swashheat")
        self.assertRegex(run(program, "--version"), r"^swashheat \d+\.\d+\.\d+ \(commit (unknown|[0-9a-f]{7,40}(-dirty)?)\)\n$")
        self.assertEqual(run(program, "-V"), run(program, "--version"))

    def test_moved_program_finds_its_unit(self):
        program = os.path.join(self.install(), "bin", "swashheat")
        self.assertIn("for co-simulation", run(program, "fmu", HEALTHY, "-o", os.path.join(self.folder, "x.fmu")))

    def test_manual_has_every_command_and_option(self):
        prefix = self.install()
        program = os.path.join(prefix, "bin", "swashheat")
        with open(os.path.join(prefix, "share/man/man1/swashheat.1"), encoding="utf-8") as f:
            manual = f.read().replace("\\-", "-")
        commands = re.findall(r"^  ([a-z]+) +\S", run(program, "--help"), re.M)
        self.assertGreater(len(commands), 9)
        for command in commands:
            self.assertIn(f".SS \"swashheat {command}\"", manual)
            for option in re.findall(r"--([a-z-]+)", run(program, command, "--help").split("Options")[1].split("Examples")[0]):
                self.assertIn(f"--{option}", manual)
        if shutil.which("groff"):
            done = subprocess.run(["groff", "-man", "-Tutf8", "-ww", os.path.join(prefix, "share/man/man1/swashheat.1")],
                                  capture_output=True, text=True)
            self.assertEqual(done.stderr, "")

    def test_bash_completes(self):
        script = os.path.join(self.install(), "share/bash-completion/completions/swashheat")
        ask = 'source "$0"; COMP_WORDS=("${@}"); COMP_CWORD=$(($# - 1)); _swashheat; echo "${COMPREPLY[*]}"'
        complete = lambda *words: run("bash", "-c", ask, script, *words).split()
        self.assertEqual(complete("swashheat", "mar"), ["margin"])
        self.assertEqual(complete("swashheat", "run", "--ens"), ["--ensemble"])
        self.assertEqual(complete("swashheat", "run", "--plot", "p"), ["png", "pdf"])
        self.assertEqual(complete("swashheat", "state", "--ens"), [])
        for shell, file in (("zsh", "share/zsh/site-functions/_swashheat"), ("fish", "share/fish/vendor_completions.d/swashheat.fish")):
            if shutil.which(shell):
                run(shell, "-n", os.path.join(os.path.dirname(script), "../../..", file))

    def test_shared_library_has_a_version(self):
        library = os.path.join(self.install(), "lib", "libswashheat.so")
        if not os.path.exists(library):
            self.skipTest("libraries lie elsewhere here")
        said = run("readelf", "-d", library)
        self.assertRegex(said, r"SONAME.*libswashheat\.so\.\d+\]")
        for only_the_program_uses in ("nettle", "minizip"):
            self.assertNotIn(only_the_program_uses, said)


class Installed(Case):
    """Examples built against the installed tree."""

    def test_cmake_package(self):
        prefix = self.install()
        build = os.path.join(self.folder, "build")
        examples = os.path.join(prefix, "share", "doc", "swashheat", "examples")
        run(CMAKE, "-S", examples, "-B", build, f"-DCMAKE_PREFIX_PATH={prefix}")
        run(CMAKE, "--build", build)
        summary = expected(os.path.join(prefix, "bin", "swashheat"), os.path.join(self.folder, "results"))
        self.example(os.path.join(build, "example_c"), summary)
        self.assertRegex(run(os.path.join(build, "example_cpp"), HEALTHY), r"(charge [\d.]+: \w+, oil at most [\d.]+ K\n){3}")

    def test_wrong_version_is_refused(self):
        prefix = self.install()
        with open(os.path.join(self.folder, "CMakeLists.txt"), "w", encoding="utf-8") as f:
            f.write("cmake_minimum_required(VERSION 3.25)\nproject(p LANGUAGES C)\nfind_package(swashheat 99 REQUIRED)\n")
        done = subprocess.run([CMAKE, "-S", self.folder, "-B", self.folder + "/b", f"-DCMAKE_PREFIX_PATH={prefix}"], capture_output=True, text=True)
        self.assertNotEqual(done.returncode, 0)
        self.assertIn("99", done.stderr)

    def test_pkg_config(self):
        prefix = self.install()
        where = [d for d, _, files in os.walk(prefix) if "swashheat.pc" in files]
        self.assertEqual(len(where), 1)
        path = {"PKG_CONFIG_PATH": where[0]}
        self.assertEqual(run("pkg-config", "--modversion", "swashheat", **path).strip(),
                         run(os.path.join(prefix, "bin", "swashheat"), "--version").split()[1])
        program = os.path.join(self.folder, "example")
        flags = run("pkg-config", "--cflags", "--libs", "swashheat", **path).split()
        library = next(f[2:] for f in flags if f.startswith("-L"))
        source = os.path.join(prefix, "share/doc/swashheat/examples/example")
        summary = expected(os.path.join(prefix, "bin", "swashheat"), os.path.join(self.folder, "results"))
        for compiler, file, standard in (("cc", source + ".c", "-std=c11"), ("c++", source + ".cpp", "-std=c++17")):
            run(compiler, standard, "-Wall", "-Wextra", "-Wpedantic", "-Werror", file, "-o", program, *flags)
            said = run(program, HEALTHY, LD_LIBRARY_PATH=library)
            self.assertIn("survives", said)
        static = run("pkg-config", "--static", "--cflags", "--libs", "swashheat", **path).split()
        static = [os.path.join(library, "libswashheat.a") if f == "-lswashheat" else f for f in static]
        run("cc", source + ".c", "-o", program, *static)
        self.example(program, summary)

    def test_every_header_stands_alone(self):
        headers = os.path.join(self.install(), "include")
        for name in sorted(os.listdir(os.path.join(headers, "swashheat"))):
            for compiler, language in (("cc", "c"), ("c++", "c++")):
                with open(os.path.join(self.folder, "one." + language), "w", encoding="utf-8") as f:
                    f.write(f"#include <swashheat/{name}>\n#include <swashheat/{name}>\n")
                run(compiler, "-Wall", "-Wextra", "-Wpedantic", "-Werror", "-fsyntax-only", "-I", headers, "-x", language, f.name)


class Part(Case):
    """The source tree as a part of another project."""

    def test_add_subdirectory(self):
        build = os.path.join(BUILD, "tests", "library", "part") # kept: a second time only what changed is built
        run(CMAKE, "-S", os.path.join(SOURCE, "tests", "library", "consumer"), "-B", build, f"-DSWASHHEAT_SOURCE={SOURCE}")
        run(CMAKE, "--build", build, "--target", "example_c", "example_cpp")
        summary = expected(os.path.join(BUILD, "cli", "swashheat"), os.path.join(self.folder, "results"))
        self.assertEqual(summary["outcome"], "survives")
        said = run(os.path.join(build, "example_c"), HEALTHY) # built without optimisation: the last digits differ
        pipe = float(re.search(r"discharge pipe ([\d.]+) K at the end", said)[1])
        self.assertAlmostEqual(pipe, summary["final"]["discharge_temperature"], delta=0.01)


class Package(Case):
    """The Debian package."""

    def test_package(self):
        if not shutil.which("dpkg-deb") or not shutil.which("dpkg-shlibdeps"):
            self.skipTest("no dpkg here")
        run(os.path.join(os.path.dirname(shutil.which(CMAKE)), "cpack"), "-G", "DEB", "-B", self.folder,
            "--config", os.path.join(BUILD, "CPackConfig.cmake"))
        package = [f for f in os.listdir(self.folder) if f.endswith(".deb")]
        self.assertEqual(len(package), 1)
        package = os.path.join(self.folder, package[0])
        depends = run("dpkg-deb", "-f", package, "Depends")
        for library in ("libc6", "libsundials", "libjansson4", "libcsv3", "libinih1", "libudunits2-0", "libcminpack1", "libnettle8", "libminizip1"):
            self.assertIn(library, depends)
        root = os.path.join(self.folder, "root")
        run("dpkg-deb", "-x", package, root)
        program = os.path.join(root, "usr/bin/swashheat")
        self.assertEqual(expected(program, os.path.join(self.folder, "results"))["outcome"], "survives")
        self.assertNotIn("not found", run("ldd", program))
        for d, _, files in os.walk(root):
            for name in files: # nothing of the machine that it was built on
                with open(os.path.join(d, name), "rb") as f:
                    text = f.read()
                if name.endswith((".cmake", ".pc")):
                    self.assertNotIn(BUILD.encode(), text, name)
                    self.assertNotIn(SOURCE.encode(), text, name)

    def test_package_installs(self):
        """dpkg itself unpacks and configures it, in a root of its own."""
        if not shutil.which("dpkg") or os.geteuid() != 0:
            self.skipTest("dpkg needs to be root")
        run(os.path.join(os.path.dirname(shutil.which(CMAKE)), "cpack"), "-G", "DEB", "-B", self.folder,
            "--config", os.path.join(BUILD, "CPackConfig.cmake"))
        package = next(os.path.join(self.folder, f) for f in os.listdir(self.folder) if f.endswith(".deb"))
        root = os.path.join(self.folder, "root")
        for d in ("updates", "info", "triggers"):
            os.makedirs(os.path.join(root, "var/lib/dpkg", d))
        open(os.path.join(root, "var/lib/dpkg/status"), "w", encoding="utf-8").close()
        run("dpkg", "--root=" + root, "--force-depends", "--force-script-chrootless", "-i", package)
        self.assertIn("install ok installed", run("dpkg", "--root=" + root, "-s", "swashheat"))
        self.assertIn("swashheat", run(os.path.join(root, "usr/bin/swashheat"), "--version"))


class Bare(Case):
    """The Debian package on a Debian 12 that has nothing but its base: made anew by debootstrap, with what the package says it needs."""

    def test_bare(self):
        if not shutil.which("debootstrap") or not shutil.which("dpkg-deb") or os.geteuid() != 0:
            self.skipTest("debootstrap is not here, or we are not root")
        root = os.path.join(self.folder, "root")
        made = subprocess.run(["debootstrap", "--variant=minbase", "bookworm", root], capture_output=True, text=True)
        if made.returncode:
            self.skipTest(f"no Debian 12 can be had: {(made.stdout + made.stderr)[-300:]}")
        run(os.path.join(os.path.dirname(shutil.which(CMAKE)), "cpack"), "-G", "DEB", "-B", self.folder,
            "--config", os.path.join(BUILD, "CPackConfig.cmake"))
        package = next(f for f in os.listdir(self.folder) if f.endswith(".deb"))
        shutil.copy(os.path.join(self.folder, package), os.path.join(root, "srv", package))
        shutil.copy("/etc/resolv.conf", os.path.join(root, "etc/resolv.conf"))

        def inside(*command):
            return run("chroot", root, "/usr/bin/env", "-i", "HOME=/srv", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "DEBIAN_FRONTEND=noninteractive", *command)

        inside("apt-get", "update", "-qq")
        inside("apt-get", "install", "-y", "-qq", "--no-install-recommends", f"/srv/{package}")
        self.assertIn("swashheat", inside("swashheat", "--version"))
        inside("swashheat", "vehicle", "-o", "/srv/van.ini", "--refrigerant", "R-134a", "--charge", "28 oz", "--expansion", "TXV")
        told = json.loads(inside("swashheat", "run", "/srv/van.ini", "-o", "/srv/out", "--set", "run.duration=600 s", "--plot", "none", "--json"))
        self.assertEqual(told["outcome"], "survives")


if __name__ == "__main__":
    result = unittest.main(argv=[sys.argv[0], *sys.argv[4:]], exit=False).result
    sys.exit(1 if not result.wasSuccessful() else 77 if result.testsRun == len(result.skipped) else 0)
