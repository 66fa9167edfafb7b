"""Every benchmark with one command, from the root of the repository: `python -m tests.benchmarks [--long]`.

Prints the tables of ratios of `site_of_many_write_ups`, `logs_reduction`, `numbers_of_a_large_site`,
`check_of_a_write_up` and `reading_of_trials`. `--long` adds a site of 1 000 write-ups and logs of 20 and 100 million
readings: an hour or so, and 5 GB of disk.
"""

import subprocess
import sys

import click

ORDINARY = (("site_of_many_write_ups", "10", "100"), ("logs_reduction", "--up-to", "10"))
LONG = (("site_of_many_write_ups", "10", "100", "1000"), ("logs_reduction", "--up-to", "100"))
ALWAYS = (("numbers_of_a_large_site",), ("check_of_a_write_up",), ("reading_of_trials",))


@click.command()
@click.option("--long", is_flag=True, help="Also 1 000 write-ups and 20 and 100 million readings.")
def main(long: bool) -> None:
    """Print the tables of all benchmarks, one after the other."""
    for module, *options in (*(LONG if long else ORDINARY), *ALWAYS):
        print(f"\n## {module.replace('_', ' ')}\n", flush=True)
        subprocess.run([sys.executable, "-m", f"tests.benchmarks.{module}", *options], check=True)


if __name__ == "__main__":
    main()
