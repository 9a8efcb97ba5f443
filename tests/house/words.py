"""Words that may not come back: one word has one meaning, and the field's own term wins.

Each row is a word that stood in the code with a private or a second meaning, and what to say instead. Code and comments of
model/, solver/, cli/, plots/ are searched; where a word has a right use, the row says in which files.

Usage: words.py SOURCE_FOLDER [--mend]     --mend puts broken comments above their members
"""
import os
import re
import sys
import textwrap

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from repository import tracked  # noqa: E402

# pattern, what to say instead, files in which it is right
BANNED = [
    (r"\b(\w*_)?slopes(_\w+)?\b", "derivatives, Jacobian", ""),
    (r"\bforeign(_\w+)?\b", "non-condensable gas (ncg); of a log's headers: foreign headers", r"solver/files/.*|cli/.*|plots/.*"),
    (r"\bswh_(plus|step|clip|larger|lesser)\b", "swh_smooth_pos, _step, _clip; swh_max, swh_min", ""),
    (r"\bswh_judge\w*|\bswh_job\w*", "swh_log_command, swh_frame", ""),
    (r"\bstruct swh_(drive|beside|bench|watch|weights|rest|plan|outside)\b", "one word, one meaning: see the glossary", ""),
    (r"\bswh_(evidence|doubts?|rest|weights|trial|leap)(_\w+)?\b", "residuals, nuisances, steady, error_covariance, perturbation, project", ""),
    (r"\b(frees|missings|not_judgeds|cannot_tells|measures)\b", "n_free, n_missing, ...", ""),
    (r"\bnarrowest\b", "bottleneck", r"(model|plots|cli)/.*"),
    (r"\b(leaped|healed|crept|trapped)\b", "projected, relaxed, warmed up, captured", ""),
    (r"\b(felt|feels)\b", "depends on, dependency", r".*\.def|model/machine\.h"),
    (r"\bM_REF\b", "SWH_FLOW_REF", ""),
    (r"\breckon(s|ed|ing)?\b", "compute", ""),
    (r"\bin \w+'s clothes\b", "behind the interface of", ""),
    (r"\bbooks\b", "balance", ""),
]
# words that a comment of a formatter's making left behind
BROKEN = re.compile(r"^\s*\*/$|^\s*(double|int|bool|long)$")


def sources(root):
    """Files that are searched."""
    return [name for name in tracked(root) if name.split("/")[0] in ("model", "solver", "cli", "plots") and name.endswith((".c", ".h", ".def"))]


def comment(text, indent, width):
    """The lines of a comment of its own."""
    lines = textwrap.wrap(text, width=width)
    above = [f"{indent}/* {lines[0]}"] + [f"{indent} * {line}" for line in lines[1:]]
    above[-1] += " */"
    return above


def balanced(prefix, text):
    """The last line of a comment, broken once more so that its end does not stand alone."""
    lines = textwrap.wrap(text, width=max(20, len(text) // 2 + 8))
    return [prefix + line for line in lines[:-1]] + [prefix + lines[-1] + " */"]


def mended(text):
    out, lines = [], text.split("\n")
    skip = False
    for line, after in zip(lines, lines[1:] + [""]):
        alone, before = re.match(r"(\s*)(double|int|bool|long)$", line), out[-1] if out else ""
        if skip:
            skip = False
        elif after.strip() == "*/" and "/*" in line and "*/" not in line:
            at = line.index("/*")
            indent = re.match(r"\s*", line).group(0)
            code, words = line[:at].rstrip(), line[at + 2:].strip()
            out += comment(words, indent, 100 - len(indent)) + [code] if code else comment(words, indent, len(words) // 2 + 8)
            skip = True
        elif line.strip() == "*/" and re.match(r"\s*\* ", before):
            prefix = re.match(r"\s*\* ", before).group(0)
            out[-1:] = balanced(prefix, before[len(prefix):])
        elif alone and "/*" in after and "*/" in after:
            at = after.index("/*")
            out += [alone[1] + after[at:].strip(), f"{alone[1]}{alone[2]} {after[:at].strip()}"]
            skip = True
        else:
            out.append(line)
    return "\n".join(out)


def mend(root):
    for name in sources(root):
        path = os.path.join(root, name)
        with open(path, encoding="utf-8") as f:
            old = f.read()
        new = mended(old)
        if new != old:
            print(name)
            with open(path, "w", encoding="utf-8") as f:
                f.write(new)


def main(root, *options):
    if "--mend" in options:
        return mend(root)
    problems, files = [], 0
    for name in sources(root):
        files += 1
        with open(os.path.join(root, name), encoding="utf-8") as f:
            for number, line in enumerate(f, 1):
                if BROKEN.search(line):
                    problems.append(f"{name}:{number}: a comment that the formatter broke: put it above its member")
                for pattern, instead, right in BANNED:
                    found = re.search(pattern, line)
                    if found and not (right and re.fullmatch(right, name)):
                        problems.append(f"{name}:{number}: '{found[0]}': say {instead}")
    if files < 100:
        problems.append(f"only {files} files were searched: has the layout changed?")
    if problems:
        sys.exit("\n".join(problems) + "\nBroken comments: python3 tests/house/words.py . --mend puts them above their members.")


main(*sys.argv[1:])
