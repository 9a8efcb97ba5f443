"""The job array of cli/README.md on a one-node Slurm (Debian: slurm-wlm, munge), started in a throw-away folder; the merged table is that of one run.

Skipped with a word where Slurm is not installed or cannot start (it needs root and a user called munge).

Usage: slurm_program.py PROGRAM SCENARIOS_FOLDER README
"""
import os
import pwd
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time

PROGRAM, SCENARIOS, README = (os.path.abspath(p) for p in sys.argv[1:4])
CONF = """ClusterName=swashheat
SlurmctldHost={host}(127.0.0.1)
SlurmUser=root
SlurmdUser=root
SlurmctldPort={port1}
SlurmdPort={port2}
AuthType=auth/munge
AuthInfo=socket={folder}/socket/munge
CredType=cred/munge
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
MpiDefault=none
SwitchType=switch/none
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
ReturnToService=2
NodeName={host} NodeAddr=127.0.0.1 CPUs={cpus} State=UNKNOWN
PartitionName=all Nodes={host} Default=YES MaxTime=60 State=UP
"""


def skip(why):
    print(f"SKIPPED: {why}")
    sys.exit(77)


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Cluster:
    def __init__(self, folder):
        self.folder, self.started = folder, []
        self.environment = {**os.environ, "SLURM_CONF": os.path.join(folder, "slurm.conf"), "PATH": os.path.dirname(PROGRAM) + ":" + os.environ["PATH"]}

    def start(self, *command, **more):
        self.started.append(subprocess.Popen(command, env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, **more))

    def ask(self, *command):
        return subprocess.run(command, env=self.environment, cwd=self.folder, capture_output=True, text=True, timeout=60)

    def munge(self):
        user = pwd.getpwnam("munge")
        place = os.path.join(self.folder, "key")
        os.makedirs(place, mode=0o700)
        with open(os.path.join(place, "munge.key"), "wb") as f:
            f.write(os.urandom(128))
        os.chmod(os.path.join(place, "munge.key"), 0o600)
        for path in (place, os.path.join(place, "munge.key")):
            os.chown(path, user.pw_uid, user.pw_gid)
        os.makedirs(os.path.join(self.folder, "socket"), mode=0o755)
        os.chown(os.path.join(self.folder, "socket"), user.pw_uid, user.pw_gid)
        run = os.path.join(self.folder, "socket", "munge")
        self.start("munged", "--foreground", "--force", f"--socket={run}", f"--key-file={place}/munge.key", f"--pid-file={place}/pid",
                   f"--log-file={place}/log", f"--seed-file={place}/seed", user=user.pw_uid, group=user.pw_gid, extra_groups=[])
        return self.wait(lambda: os.path.exists(run), 10)

    def wait(self, done, seconds):
        end = time.time() + seconds
        while time.time() < end:
            if done():
                return True
            time.sleep(0.3)
        return False

    def slurm(self):
        host = socket.gethostname().split(".")[0]
        for name in ("state", "spool"):
            os.makedirs(os.path.join(self.folder, name))
        cpus = len(os.sched_getaffinity(0))
        with open(self.environment["SLURM_CONF"], "w", encoding="utf-8") as f:
            f.write(CONF.format(host=host, folder=self.folder, cpus=cpus, port1=free_port(), port2=free_port()))
        self.start("slurmctld", "-D", "-i")
        self.start("slurmd", "-D")
        return self.wait(lambda: "idle" in self.ask("sinfo", "-h", "-o", "%t").stdout, 40)

    def stop(self):
        for p in reversed(self.started):
            p.terminate()
        for p in self.started:
            try:
                p.wait(10)
            except subprocess.TimeoutExpired:
                p.kill()


def recipe():
    """The block of the README that submits the array, for fewer and shorter parts on this node."""
    with open(README, encoding="utf-8") as f:
        block = next(b for b in re.findall(r"^```bash\n(.*?)^```$", f.read(), re.M | re.S) if "#SBATCH" in b)
    small = block.replace("--array=1-16", "--array=1-4").replace("--cpus-per-task=4", "--cpus-per-task=1").replace("/16", "/4").replace(":2000", ":40")
    return small.replace("scenarios/undercharge.ini", f"{SCENARIOS}/undercharge.ini --set run.duration=60s --plot none")


def main():
    missing = [tool for tool in ("munged", "slurmctld", "slurmd", "sbatch", "sinfo") if not shutil.which(tool)]
    if missing:
        skip(f"no {', '.join(missing)} here")
    if os.geteuid() != 0:
        skip("a Slurm of one's own needs root")
    try:
        pwd.getpwnam("munge")
    except KeyError:
        skip("no user munge")
    folder = tempfile.mkdtemp(prefix="swh_slurm_")
    os.chmod(folder, 0o755)
    cluster = Cluster(folder)
    try:
        if not cluster.munge():
            skip("munged does not start")
        if not cluster.slurm():
            skip("Slurm does not start: " + " | ".join(open(os.path.join(folder, n), encoding="utf-8", errors="replace").read()[-300:] for n in ("slurmctld.log", "slurmd.log")
                                                     if os.path.exists(os.path.join(folder, n))))
        done = cluster.ask("bash", "-euc", recipe())
        if done.returncode:
            sys.exit(f"the recipe failed:\n{done.stdout}{done.stderr}")
        merged = os.path.join(folder, "results/parts/cases.csv")
        if not cluster.wait(lambda: os.path.exists(merged), 120):
            sys.exit("no merged table after two minutes:\n" + cluster.ask("squeue").stdout + "".join(
                open(os.path.join(folder, n), encoding="utf-8").read() for n in os.listdir(folder) if n.startswith("slurm-")))
        whole = [PROGRAM, "sweep", f"{SCENARIOS}/undercharge.ini", "--set", "run.duration=60 s", "--plot", "none", "--vary",
                 "fault.undercharge.severity=0.3..0.7:40", "-o", os.path.join(folder, "whole"), "-q"]
        subprocess.run(whole, check=True)
        with open(merged, "rb") as a, open(os.path.join(folder, "whole/cases.csv"), "rb") as b:
            if a.read() != b.read():
                sys.exit("the merged table differs from one run's")
        print("four tasks of a job array and a merge that waited for them: the same table, to the bit")
    finally:
        cluster.stop()
        shutil.rmtree(folder, ignore_errors=True)


main()
