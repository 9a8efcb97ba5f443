"""What the checks of the repository share."""
import os
import subprocess


def tracked(root):
    """Files of the repository; without git, the files that are there."""
    done = subprocess.run(["git", "-C", root, "ls-files", "-z"], capture_output=True, text=True)
    if done.returncode == 0 and done.stdout:
        return [f for f in done.stdout.split("\0") if f and os.path.exists(os.path.join(root, f))]
    return [os.path.relpath(os.path.join(d, f), root) for d, _, files in os.walk(root) for f in files if "/." not in d[len(root):]]
