#!/usr/bin/python3
"""usage: run_cases.py LOADSIDE CASES [NAME]...   runs whole commands, each in a folder of its own full of captures
       run_cases.py --self-test                   shows that a wrong case is noticed

A case is a folder with
  cmd     the command, run by sh; loadside is on PATH
  stdout  what it prints, line by line. No such file: nothing. A line "..." stands for any lines, also none; a line
          that begins with "~ " is a regular expression for one whole line; any other line is itself
  stderr  the same of standard error
  status  its exit status. No such file: 0
"""
import concurrent.futures
import os
import re
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
TIMEOUT_S = 60


def read(path, default):
    if not os.path.exists(path):
        return default
    with open(path, encoding="utf-8") as text:
        return text.read()


def line_fits(pattern, line):
    if pattern.startswith("~ "):
        return re.fullmatch(pattern[2:], line) is not None
    return pattern == line


def fits(patterns, lines):
    """Whether the lines match the patterns."""
    if not patterns:
        return not lines
    if patterns[0] == "...":
        return any(fits(patterns[1:], lines[skip:]) for skip in range(len(lines) + 1))
    return bool(lines) and line_fits(patterns[0], lines[0]) and fits(patterns[1:], lines[1:])


def run(case, captures, program):
    """Runs a case; returns what is wrong, a list of texts."""
    with tempfile.TemporaryDirectory() as folder:
        work = os.path.join(folder, "work")
        shutil.copytree(captures, work)
        programs = os.path.join(folder, "bin")
        os.mkdir(programs)
        os.symlink(program, os.path.join(programs, "loadside"))
        environment = dict(os.environ, PATH=programs + os.pathsep + os.environ["PATH"])
        environment.pop("POSIXLY_CORRECT", None)
        done = subprocess.run(
            ["sh", os.path.join(case, "cmd")],
            cwd=work,
            env=environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=TIMEOUT_S,
            check=False,
        )
    wrong = []
    status = int(read(os.path.join(case, "status"), "0"))
    if done.returncode != status:
        wrong.append(f"exit status {done.returncode}, expected {status}")
    for name, got in (("stdout", done.stdout), ("stderr", done.stderr)):
        text = got.decode("utf-8", "backslashreplace")
        expected = read(os.path.join(case, name), "")
        if not fits(expected.splitlines(), text.splitlines()):
            wrong.append(f"{name} is\n{text}--- expected\n{expected}---")
    return wrong


def run_all(program, folder, names):
    bad = []
    program = os.path.abspath(program)
    names = names or sorted(os.listdir(folder))
    with tempfile.TemporaryDirectory() as place:
        captures = os.path.join(place, "captures")
        subprocess.run([sys.executable, os.path.join(HERE, "make_captures.py"), captures], check=True)
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as workers:
            found = workers.map(lambda name: run(os.path.abspath(os.path.join(folder, name)), captures, program), names)
            for name, wrong in zip(names, found):
                for text in wrong:
                    print(f"{name}: {text}")
                if wrong:
                    bad.append(name)
    print(f"{len(names)} cases, {len(bad)} failed{': ' if bad else ''}{' '.join(bad)}")
    return 1 if bad or not names else 0


def self_test():
    """Cases that are right, or wrong in one way; the wrong ones must be detected."""
    right = {"cmd": "echo a; echo b 12; echo c >&2; exit 3", "stdout": "a\n~ b \\d+\n", "stderr": "c\n", "status": "3"}
    changes = {
        "right": ({}, True),
        "any lines": ({"stdout": "...\n"}, True),
        "any lines about one": ({"stdout": "...\na\n...\n"}, True),
        "status": ({"status": "0"}, False),
        "stdout": ({"stdout": "a\nb\n"}, False),
        "a line too many": ({"stdout": "a\n"}, False),
        "a line too few": ({"stdout": "a\n~ b \\d+\nd\n"}, False),
        "part of a line": ({"stdout": "a\n~ b 1\n"}, False),
        "missing after any": ({"stdout": "...\nd\n"}, False),
        "stderr": ({"stderr": ""}, False),
    }
    bad = 0
    for name, (change, good) in changes.items():
        with tempfile.TemporaryDirectory() as case, tempfile.TemporaryDirectory() as captures:
            for file, text in {**right, **change}.items():
                with open(os.path.join(case, file), "w", encoding="utf-8") as out:
                    out.write(text)
            found_good = not run(case, captures, "/bin/false")
        if found_good != good:
            print(f"{name}: taken for {'right' if found_good else 'wrong'}")
            bad += 1
    return 1 if bad else 0


if __name__ == "__main__":
    if sys.argv[1:] == ["--self-test"]:
        sys.exit(self_test())
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    sys.exit(run_all(sys.argv[1], sys.argv[2], sys.argv[3:]))
