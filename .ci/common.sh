# Makes .venv from scratch or brings it up to date; sourced by the two commands of README.md.
set -eu
cd "$(dirname "$0")/.."
if [ ! -x .venv/bin/python ]; then
    python3 -m venv .venv
fi
export PIP_DISABLE_PIP_VERSION_CHECK=1
