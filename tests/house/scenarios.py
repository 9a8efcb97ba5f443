"""Every shipped scenario, vehicle, schedule and log is called good by the program (the demo job's own files are read by its report).

Usage: scenarios.py PROGRAM SCENARIOS_FOLDER
"""
import glob
import os
import subprocess
import sys

program, folder = sys.argv[1:3]
files = sorted(glob.glob(os.path.join(folder, "**", "*.ini"), recursive=True) + glob.glob(os.path.join(folder, "**", "*.csv"), recursive=True))
files = [name for name in files if "job-demo" not in name.split(os.sep)]
if len(files) < 5:
    sys.exit(f"only {len(files)} files in {folder}")
bad = []
for name in files:
    done = subprocess.run([program, "check", name], capture_output=True, text=True)
    if done.returncode != 0 or ": good." not in done.stdout:
        bad.append(f"{name}: status {done.returncode}\n{done.stdout}{done.stderr}")
print(f"{len(files)} files checked")
if bad:
    sys.exit("\n".join(bad))
