#!/usr/bin/python3
"""usage: check_tables.py LOADSIDE

Help, manual page and completions are made from the tables that parsing uses; this checks that each has every option.
"""
import re
import shutil
import subprocess
import sys

SKIPPED = 77
wrong = []


def output(*command, text=None):
    done = subprocess.run(command, input=text, capture_output=True, encoding="utf-8", timeout=60, check=False)
    if done.returncode or done.stderr:
        wrong.append(f"{' '.join(command)}: exit status {done.returncode}: {done.stderr}")
    return done.stdout


def expect(what, found, wanted):
    if found != wanted:
        wrong.append(f"{what}: found {sorted(found)}, expected {sorted(wanted)}")


def options_of_help(text):
    """{option: argument or ''} of the lines that begin with an option."""
    return {name: argument for name, argument in re.findall(r"^  --([a-z-]+)(?: ([A-Z=,-]+))?(?:  |$)", text, re.M)}


def commands_of_help(text):
    block = text.split("\nCommands:\n")[1].split("\n\n")[0]
    return re.findall(r"^  ([a-z]+) ", block, re.M)


def check_manual(manual, program, commands):
    """The page by sections: the options of the program stand in DESCRIPTION, those of a command in its own."""
    sections = dict(re.findall(r'^\.SH "?([A-Z ]+?)"?\n(.*?)(?=^\.SH|\Z)', manual, re.M | re.S))

    def options(section):
        lines = re.findall(r"^\.TP\n\\fB\\-\\-([a-z\\-]+)\\fR(?: \\fI([A-Z=,\\-]+)\\fR)?$", section, re.M)
        return {name.replace("\\", ""): argument.replace("\\", "") for name, argument in lines}

    expect("manual, program", options(sections["DESCRIPTION"]), program)
    for name, wanted in commands.items():
        expect(f"manual, {name}", options(sections["LOADSIDE " + name.upper()]), wanted)


def bash_words(script, words):
    """The completions that bash offers for the last word."""
    quoted = " ".join("'" + word + "'" for word in words)
    ask = f"COMP_WORDS=({quoted}); COMP_CWORD={len(words) - 1}; _loadside; printf '%s\\n' \"${{COMPREPLY[@]}}\"\n"
    return set(output("bash", "--norc", text=script + ask).split())


def check_bash(script, program, commands):
    expect("bash, program", bash_words(script, ["loadside", ""]), {"--" + name for name in program} | set(commands))
    for name, wanted in commands.items():
        expect(f"bash, {name}", bash_words(script, ["loadside", name, "--"]), {"--" + option for option in wanted})
    expect("bash, --js", bash_words(script, ["loadside", "measure", "--js"]), {"--json"})
    expect("bash, --encoding s2", bash_words(script, ["loadside", "measure", "--encoding", "s2"]), {"s24le", "s24be"})
    expect("bash, --encoding=u", bash_words(script, ["loadside", "measure", "--encoding", "=", "u"]), {"u8"})
    expect("bash, --bench /et", bash_words(script, ["loadside", "measure", "--bench", "/et"]), {"/etc"})
    expect("bash, --load", bash_words(script, ["loadside", "measure", "--load", ""]), set())
    expect("bash, a capture", bash_words(script, ["loadside", "measure", "/et"]), {"/etc"})


def check_zsh(script, program, commands):
    whole = dict(program)
    for wanted in commands.values():
        whole.update(wanted)
    found = re.findall(r"^ +'\*?--([a-z-]+)(?:=)?\[[^\]]+\](?::([A-Z=,-]+):.*)?' \\$", script, re.M)
    expect("zsh", dict(found), whole)
    if shutil.which("zsh"):
        output("zsh", "-n", text=script)


def check_parsing(program, commands):
    """Every option that is shown is known to parsing, with or without a value as shown."""
    for name, wanted in commands.items():
        for option, argument in wanted.items():
            done = subprocess.run(
                [program, name, "--" + option + ("" if argument else "=x")],
                capture_output=True,
                encoding="utf-8",
                timeout=60,
                check=False,
            )
            expected = f"no value found; {argument} expected" if argument else "'x' found; no value expected"
            if done.returncode != 2 or expected not in done.stderr:
                wrong.append(f"parsing, {name} --{option}: {done.stderr}")


def main():
    loadside = sys.argv[1]
    help_text = output(loadside, "--help")
    program = options_of_help(help_text)
    commands = {name: options_of_help(output(loadside, name, "--help")) for name in commands_of_help(help_text)}
    if len(program) < 2 or not commands or min(len(options) for options in commands.values()) < 2:
        wrong.append(f"help: too little found in it: {program} {commands}")
    manual = output(loadside, "--manual")
    check_parsing(loadside, commands)
    check_manual(manual, program, commands)
    check_bash(output(loadside, "--completion", "bash"), program, commands)
    check_zsh(output(loadside, "--completion", "zsh"), program, commands)
    for text in wrong:
        print(text)
    if wrong:
        return 1
    return check_rendering(manual)


def check_rendering(manual):
    if not shutil.which("mandoc"):
        print("mandoc was not found, so the manual page was not rendered; install mandoc")
        return SKIPPED
    done = subprocess.run(
        ["mandoc", "-T", "lint", "-W", "warning"], input=manual, capture_output=True, encoding="utf-8", check=False
    )
    if done.returncode or done.stdout or done.stderr:
        print(f"manual page: {done.stdout}{done.stderr}")
        return 1
    page = subprocess.run(
        ["mandoc", "-T", "utf8"], input=manual, capture_output=True, encoding="utf-8", check=True
    ).stdout
    if "--full-scale" not in re.sub(".\b", "", page):
        print("manual page: --full-scale is not in the page as rendered")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
