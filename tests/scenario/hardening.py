"""The program that people run is hardened: position independent, with its tables read-only once it is linked and all symbols
bound at the start, a stack that is guarded and not executable, calls of the C library that know their buffer's size, and
branch targets marked. A program built without any of it is held against the same checks, and each must see it fail.

What to look for: the man pages of gcc (-fstack-protector-strong, -fcf-protection), ld (-z relro, -z now) and
feature_test_macros (_FORTIFY_SOURCE)."""
import platform
import re
import subprocess

from harness import Scenario

s = Scenario()


def shown(*command):
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def hardening(program):
    headers = shown("readelf", "-lW", program)
    dynamic = shown("readelf", "-dW", program)
    symbols = shown("readelf", "--dyn-syms", "-W", program)
    stack = re.search(r"GNU_STACK.*? (R[W ][E ]) ", headers)
    found = {
        "position independent": "Elf file type is DYN" in headers and re.search(r"FLAGS_1.*PIE", dynamic),
        "tables read-only after linking": "GNU_RELRO" in headers,
        "all symbols bound at the start": re.search(r"BIND_NOW|FLAGS_1.*NOW", dynamic),
        "stack not executable": stack and "E" not in stack.group(1),
        "stack guarded": "__stack_chk_fail" in symbols,
        "C library's calls know their buffers": re.search(r"__\w+_chk@", symbols.replace("__stack_chk_fail", "")),
        "no path to search for libraries": not re.search(r"\((RPATH|RUNPATH)\)", dynamic),
    }
    if platform.machine() == "x86_64":  # every function that may be called by address begins with its mark
        code = shown("objdump", "-d", "--no-show-raw-insn", program)
        functions = len(re.findall(r"^[0-9a-f]+ <[\w.]+>:$", code, re.M))
        found["branch targets marked"] = code.count("endbr64") > 0.2 * functions
    return {name: bool(truth) for name, truth in found.items()}


for name, truth in hardening(s.program).items():
    s.check(f"the program: {name}", truth)

soft = s.path("soft")
many = "".join(f"int f{i}(int n) {{ return n * {i}; }}\n" for i in range(50))  # the C library's own start is marked
s.write("soft.c", many + '#include <stdio.h>\n#include <string.h>\nint main(int n, char **v) { char b[9]; strcpy(b, v[0]); return puts(b) < n; }\n')
subprocess.run(["cc", "-w", "-O2", "-no-pie", "-fno-stack-protector", "-fcf-protection=none" if platform.machine() == "x86_64" else "-O2",
                "-U_FORTIFY_SOURCE", "-Wl,-z,norelro,-z,lazy,-z,execstack,-rpath,/nowhere", "-o", soft, s.path("soft.c")], check=True)
for name, truth in hardening(soft).items():
    s.check(f"a program built without: {name} is seen to be missing", not truth)
s.finish()
