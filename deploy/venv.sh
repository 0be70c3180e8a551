# Shared by deploy/demo and deploy/test: a virtual environment in the repository's root, made anew only when it must be.
# Needs: `root`, the repository's folder. Gives: `programs`, the folder of the environment's programs.

say() { printf '%s\n' "$*" >&2; }

# The Python that makes environments: $PYTHON if it is set, else the first on the path that is new enough.
find_python() {
    local tried="" candidate
    for candidate in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11 python}; do
        if "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            command -v "$candidate"
            return
        fi
        tried="${tried:+$tried, }$candidate"
    done
    say "filmhand needs Python 3.11 or newer. Tried without success: $tried."
    say "Install one (Debian, Ubuntu: apt install python3 python3-venv), or name it: PYTHON=/path/to/python3.11 $0"
    return 1
}

# make_venv NAME WHAT: the environment NAME with WHAT installed (editable), kept while pyproject.toml and the Python are the same.
make_venv() {
    local folder="$root/$1" what="$2" base key
    base="$(find_python)" || exit 1
    key="$("$base" - "$root/pyproject.toml" "$root" "$what" <<'KEY'
import hashlib, sys
with open(sys.argv[1], "rb") as file:
    print(hashlib.sha256(file.read() + repr((sys.version, sys.prefix, sys.argv[2:])).encode()).hexdigest())
KEY
)"
    programs="$(programs_of "$folder")"
    if [ "$(cat "$folder/made-from" 2>/dev/null)" = "$key" ] && "$programs/python" -c '' 2>/dev/null; then
        return
    fi
    say "Making $1 and installing into it (a few minutes the first time, up to 1 GB) ..."
    if ! "$base" -m venv --clear "$folder"; then
        say "The virtual environment could not be made. On Debian and Ubuntu: apt install python3-venv"
        exit 1
    fi
    programs="$(programs_of "$folder")"
    if ! "$programs/python" -m pip install --quiet --disable-pip-version-check --root-user-action ignore --editable "$what"; then
        say "The installation failed; what pip says above tells why. Run $0 again once it is mended."
        exit 1
    fi
    printf '%s\n' "$key" >"$folder/made-from"
}

# Where an environment keeps its programs: bin, or on Windows Scripts.
programs_of() {
    if [ -d "$1/Scripts" ]; then printf '%s' "$1/Scripts"; else printf '%s' "$1/bin"; fi
}
